"""Show the market."""

from datetime import date
from pathlib import Path

from pipeline import options


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
    from pipeline.answers.market_view.run import view_ledger, write_market_page
    from pipeline.answers.market_view.terminal import show_view
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress

    with progress("viewing the market", quiet=as_json):
        viewed = view_ledger(ledger, market, as_of=as_of)
    show_json(viewed) if as_json else show_view(viewed)
    if page is not None:
        options.say_written(write_market_page(viewed, page, market), as_json=as_json)
    if figure is not None:
        from reports.market_view.page import market_figures

        options.write_the_figure(market_figures(viewed), figure, as_json=as_json)
