"""Fit the market."""

from pathlib import Path

from pipeline import clock, options


@options.command()
@options.market
@options.ledger
@options.as_json
def fit(market: Path, ledger: Path, as_json: bool) -> None:
    """Fit the market to the sales in the ledger, and keep the fit there.

    Example: pairband fit
    """
    from pipeline.answers.fit.run import fit_ledger
    from pipeline.answers.fit.tables import fit_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress
    from pipeline.terminal.sheet import show_sheet

    with progress("fitting the market", quiet=as_json) as on_progress:
        summary = fit_ledger(ledger, market, fitted_at=clock.now(), on_progress=on_progress)
    show_json(summary) if as_json else show_sheet(fit_sheet(summary), limits=False)
