"""List the words of titles that move the price."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.outputs import show_answer
from pipeline.streams import say

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


@options.command("words")
@click.option("--csv", type=options.OUTPUT, help="Write the list to this file (CSV).")
@options.workspace
@options.as_json
@options.details
def title_words(csv: Path | None, workspace: "Workspace", as_json: bool) -> None:
    """List words of titles that move the price and that no field reads, for you to adopt. Changes nothing.

    Example: pairband words --csv words.csv
    """
    from pipeline.answers.title_words.run import find_words_of_ledger
    from pipeline.answers.title_words.tables import words_sheet, words_table
    from pipeline.terminal.progress import progress

    with progress("reading titles", quiet=as_json):
        found = find_words_of_ledger(workspace)
    show_answer(found, words_sheet, as_json=as_json, most_rows=len(found.words))
    if csv is not None:
        from reports.export import write_table

        for path in write_table(words_table(found), csv=csv):
            say(f"wrote {path}", err=as_json)
