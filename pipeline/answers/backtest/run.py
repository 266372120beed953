"""Back-test the bidding rule on the ledger's own past lots."""

from collections.abc import Callable
from datetime import date

import polars as pl

from pipeline.answers.backtest.answer import Backtest, backtest_lots, with_next_sales
from pipeline.answers.lots.run import lot_terms
from pipeline.config import Market
from pipeline.ingest.money import market_rates
from pipeline.ingest.rates import rates_of
from pipeline.workspace import Workspace


def backtest_ledger(
    workspace: Workspace,
    *,
    as_of: date,
    margin: float | None = None,
    confidence: float | None = None,
    sells_at: str | None = None,
    on_progress: Callable[[str, int, int], None],
) -> Backtest:
    """Bid by the rule on the past lots of a ledger up to a day; by default with the market file's terms.

    The latest fit judges in hindsight, whatever the day.
    """
    market, ledger = workspace.market, workspace.ledger
    terms = lot_terms(market, margin=margin, confidence=confidence, sells_at=sells_at)
    auctions = [venue.name for venue in market.venues if venue.kind == "auction"]
    lots = ledger.read("marts/past_lots", venues=auctions)
    twice = ledger.read("marts/repeat_sales").select(record_id="first_id", other_id="second_id")
    again = ledger.read("outcomes/sold_again", as_of=as_of)
    sales, fitted = workspace.sales, workspace.fitted
    workspace.close()  # the back-test takes long, and others may want to write
    known = pl.col("sold_on") <= as_of
    tested = backtest_lots(
        sales.filter(known),
        with_resale_rates(lots.filter(known), market, terms.sells_at),
        twice,
        fitted,
        market,
        terms,
        on_progress=lambda done, total: on_progress("origins", done, total),
    )
    return with_next_sales(tested, again, market)


def with_resale_rates(lots: pl.DataFrame, market: Market, sells_at: str | None) -> pl.DataFrame:
    """Add resale_rate: units of the resale venue's currency for one of the base, on each lot's day of sale."""
    if sells_at is None:
        return lots.with_columns(resale_rate="rate")
    days = lots.select(currency=pl.lit(market.venue(sells_at).currency), day="sold_on")
    rate = rates_of(days, market_rates(market), base=market.base_currency)
    return lots.with_columns(resale_rate=rate).drop_nulls("resale_rate")
