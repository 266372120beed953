"""Show what was understood of exports."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace


@options.command()
@click.argument("file", type=options.FILE, required=False)
@options.outputs(csv="Write what the rows say, field by field, to this file (CSV).")
def understood(
    file: Path | None,
    workspace: "Workspace",
    outputs: "Outputs",
) -> None:
    """Show what was understood of a file that was read, or of all of them together. Writes no record.

    Example: pairband understood holm_2023_2026.csv --page understood.html
    """
    from pipeline.answers.understood.run import understood_file
    from pipeline.answers.understood.tables import fields_table, understood_sheet

    found = understood_file(workspace.ledger, workspace.market, file)
    show_answer(found, understood_sheet, as_json=outputs.as_json, limits=False)
    outputs.tabulate(fields_table(found))
    if outputs.drawn:
        from reports.understood.page import understood_figures, understood_page

        outputs.draw([found], understood_page, understood_figures)
