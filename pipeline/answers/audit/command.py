"""Audit values and bands on later sales."""

from datetime import date
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace


@options.command()
@options.on
@options.outputs()
@click.pass_context
def audit(
    context: click.Context,
    as_of: date,
    workspace: "Workspace",
    outputs: "Outputs",
) -> None:
    """Test whether values and bands held up on later sales; exit code 3 where a band did not. Writes no record.

    Example: pairband audit --page audit.html
    """
    from pipeline.answers.audit.run import audit_ledger
    from pipeline.answers.audit.tables import audit_sheet
    from pipeline.terminal.progress import progress

    with progress("auditing", quiet=outputs.as_json) as on_progress:
        found = audit_ledger(
            workspace,
            as_of=as_of,
            on_progress=lambda done, total: on_progress("pricing later sales", done, total),
        )
    show_answer(found, audit_sheet, as_json=outputs.as_json, most_rows=len(found.coverages))
    if outputs.drawn:
        from reports.audit.page import audit_figures, audit_page

        outputs.draw([found], audit_page, audit_figures)
    context.exit(found.verdict.exit_code)
