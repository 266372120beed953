"""Fit the market."""

from pathlib import Path

from pipeline import clock, options
from pipeline.outputs import show_answer


@options.command()
@options.market
@options.ledger
@options.as_json
@options.details
def fit(market: Path, ledger: Path, as_json: bool) -> None:
    """Fit the market to the sales in the ledger, and keep the fit there.

    Example: pairband fit
    """
    from pipeline.answers.fit.run import fit_ledger
    from pipeline.answers.fit.tables import fit_sheet
    from pipeline.terminal.progress import progress

    with progress("fitting the market", quiet=as_json) as on_progress:
        summary = fit_ledger(ledger, market, fitted_at=clock.now(), on_progress=on_progress)
    show_answer(summary, fit_sheet, as_json=as_json, limits=False)
