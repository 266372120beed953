"""The market: fit it, show it, and audit what was said of it."""

from datetime import date
from pathlib import Path

import click

from pipeline import clock
from pipeline.commands import options


@options.command()
@options.market
@options.ledger
@options.as_json
def fit(market: Path, ledger: Path, as_json: bool) -> None:
    """Fit the market to the sales in the ledger, and keep the fit there.

    Example: pairband fit
    """
    from pipeline.jobs.fit import fit_ledger
    from pipeline.terminal.console import show_json
    from pipeline.terminal.fit import show_fit
    from pipeline.terminal.progress import progress

    with progress("fitting the market", quiet=as_json) as on_progress:
        summary = fit_ledger(ledger, market, fitted_at=clock.now(), on_progress=on_progress)
    show_json(summary) if as_json else show_fit(summary)


@options.command("market")
@options.on
@options.page
@options.figure
@options.market
@options.ledger
@options.as_json
def view(
    as_of: date,
    page: Path | None,
    figure: options.FigureFile | None,
    market: Path,
    ledger: Path,
    as_json: bool,
) -> None:
    """Show what the market did, how busy the venues were, and what each attribute is worth. Writes no record.

    Example: pairband market --page market.html
    """
    from pipeline.jobs.market import view_ledger, write_market_page
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress
    from pipeline.terminal.view import show_view

    with progress("viewing the market", quiet=as_json):
        viewed = view_ledger(ledger, market, as_of=as_of)
    show_json(viewed) if as_json else show_view(viewed)
    if page is not None:
        options.say_written(write_market_page(viewed, page, market), as_json=as_json)
    if figure is not None:
        from reports.market import market_figures

        options.write_the_figure(market_figures(viewed), figure, as_json=as_json)


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
    from pipeline.jobs.audit import audit_ledger, write_audit_page
    from pipeline.terminal.audit import show_audit
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
        from reports.audit import audit_figures

        options.write_the_figure(audit_figures(found), figure, as_json=as_json)
    context.exit(found.verdict.exit_code)
