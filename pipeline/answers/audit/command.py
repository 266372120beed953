"""Audit values and bands on later sales."""

from datetime import date
from pathlib import Path

import click

from pipeline import options


@options.command()
@options.on
@options.page
@options.figure
@options.market
@options.ledger
@options.as_json
@click.pass_context
def audit(
    context: click.Context,
    as_of: date,
    page: Path | None,
    figure: options.FigureFile | None,
    market: Path,
    ledger: Path,
    as_json: bool,
) -> None:
    """Test whether values and bands kept their word on later sales; exit code 3 where a band did not. Writes no record.

    Example: pairband audit --page audit.html
    """
    from pipeline.answers.audit.run import audit_ledger, write_audit_page
    from pipeline.answers.audit.terminal import show_audit
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress

    with progress("auditing", quiet=as_json) as on_progress:
        found = audit_ledger(
            ledger,
            market,
            as_of=as_of,
            on_progress=lambda done, total: on_progress("pricing later sales", done, total),
        )
    show_json(found) if as_json else show_audit(found)
    if page is not None:
        options.say_written(write_audit_page(found, page, market), as_json=as_json)
    if figure is not None:
        from reports.audit.page import audit_figures

        options.write_the_figure(audit_figures(found), figure, as_json=as_json)
    context.exit(found.verdict.exit_code)
