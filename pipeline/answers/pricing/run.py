"""Build the pricing page: the latest fit and the sales behind it, to be computed with where there is no pairband."""

from datetime import date
from pathlib import Path

from pipeline.answers.appraisal.run import latest_fit
from pipeline.config import load_market
from pipeline.ledger import open_ledger
from reports.pricing.page import write_pricing


def write_pricing_page(
    ledger_path: Path, market_path: Path, page: Path, *, as_of: date, with_sales: bool = True
) -> Path:
    """Write the page in which a reader values any pair, as of a day; returns its path.

    Without `with_sales` no sale travels in the page, which then shows no comparables.
    """
    market = load_market(market_path)
    with open_ledger(ledger_path, read_only=True) as ledger:
        fitted, stale = latest_fit(ledger, market)
        sales = ledger.read("marts/priced_sales", silhouette=None, most=None)
    return write_pricing(fitted, market, sales, page, as_of=as_of, stale=stale, with_sales=with_sales)
