"""All pages in one folder."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.streams import say

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


@options.command()
@click.argument("directory", type=options.OUTPUT_FOLDER, default="reports")
@click.option(
    "--stock",
    type=options.FILE,
    help='A stock list (a map with holds = "stock"): a page for each pair; left out, that of the ledger.',
)
@click.option(
    "--lots", "lots_file", type=options.FILE, help='A file of upcoming lots (a map with holds = "lots").'
)
@options.without_sales
@options.on
@options.workspace
@options.as_json
def report(
    directory: Path,
    stock: Path | None,
    lots_file: Path | None,
    without_sales: bool,
    as_of: date,
    workspace: "Workspace",
    as_json: bool,
) -> None:
    """Build every report in one folder, tied together by an index page. Writes no record.

    DIRECTORY is the folder for the pages; left out, `reports`.

    Example: pairband report pages --lots exports/upcoming_lots.csv
    """
    from pipeline.answers.report.run import build_reports
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress

    with progress("building", quiet=as_json) as on_progress:
        built = build_reports(
            workspace,
            directory,
            as_of=as_of,
            stock=stock,
            lots=lots_file,
            with_sales=not without_sales,
            on_progress=on_progress,
        )
    if as_json:
        show_json(built)
        return
    say(f"wrote {built.index} and {len(built.pages)} pages; open it in a browser (no network needed).")
    for line in built.skipped:
        say(f"left out: {line}.")
    for note in built.unshown:
        say(note)
