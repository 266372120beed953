"""View the market with the latest fit."""

from datetime import date
from pathlib import Path

from pipeline.answers.appraisal.run import latest_fit
from pipeline.answers.market_view.answer import MarketView, view_market
from pipeline.config import load_market
from pipeline.ledger import open_ledger
from reports.market_view.page import write_market


def view_ledger(ledger_path: Path, market_path: Path, *, as_of: date) -> MarketView:
    """View the market of a ledger at a day."""
    market = load_market(market_path)
    with open_ledger(ledger_path, read_only=True) as ledger:
        fitted, stale = latest_fit(ledger, market)
        return view_market(
            fitted,
            market,
            ledger.read("marts/priced_sales", silhouette=None, most=None),
            ledger.read("marts/repeat_sales"),
            ledger.read("marts/market_activity", as_of=as_of),
            as_of=as_of,
            stale=stale,
        )


def write_market_page(view: MarketView, page: Path, market_path: Path) -> Path:
    """Write the page of the market, and return its path."""
    return write_market(view, page, business=load_market(market_path).business.name)
