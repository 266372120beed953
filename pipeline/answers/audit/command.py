"""Audit values and bands on later sales."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


@options.command()
@options.on
@options.page
@options.figure
@options.workspace
@options.as_json
@click.pass_context
def audit(
    context: click.Context,
    as_of: date,
    page: Path | None,
    figure: options.FigureFile | None,
    workspace: "Workspace",
    as_json: bool,
) -> None:
    """Test whether values and bands held up on later sales; exit code 3 where a band did not. Writes no record.

    Example: pairband audit --page audit.html
    """
    from pipeline.answers.audit.run import audit_ledger
    from pipeline.answers.audit.tables import audit_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress
    from pipeline.terminal.sheet import MOST_ROWS, show_sheet

    with progress("auditing", quiet=as_json) as on_progress:
        found = audit_ledger(
            workspace,
            as_of=as_of,
            on_progress=lambda done, total: on_progress("pricing later sales", done, total),
        )
    if as_json:
        show_json(found)
    else:
        show_sheet(audit_sheet(found), most_rows=max(MOST_ROWS, len(found.coverages)))
    if page is not None:
        from reports.audit.page import write_audit

        options.say_written(write_audit(found, page, business=workspace.business), as_json=as_json)
    if figure is not None:
        from reports.audit.page import audit_figures

        options.write_the_figure(audit_figures(found), figure, as_json=as_json)
    context.exit(found.verdict.exit_code)
