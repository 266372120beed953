"""What became of kept values: how often bands held, and what bids, asks and estimates brought."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.answers.outcomes.keep import MAXIMUM_BID, STOCK, WORK
from pipeline.answers.outcomes.profit import Profits
from pipeline.answers.outcomes.rule import Rule

SOLD, UNSOLD, OPEN = "sold", "not sold", "open"

_VALUE = ("question", "pair", "stock_ref", "lot_ref", "venue", "said_on", "median", "ended_on")
"""What makes one value of several kept prices: a consignment keeps each of its prices with the same value."""


@dataclass(frozen=True)
class Outcomes:
    """Kept values and what became of them by a day, in the base currency.

    `values` has one row a kept price, the latest first: said_on, question, pair, stock_ref, lot_ref, median, low, high,
    price_kind, price, price_currency, outcome (SOLD, UNSOLD or OPEN), ended_on, days, sold_at, price_paid, held
    (whether the band held the price; null where it was not sold), ratio (price paid over the median), brought (the
    price without the buyer's fees, in price_currency; null where it is not known) and share (brought over price).
    `bands` has one row a question: kept, sold, held, ratio (median). `prices` has one row a kind of price and venue:
    kept, sold, unsold, reached (how many sales brought the price at least), share (median), days (median).
    `works` has one row a work on a pair that was kept: said_on, stock_ref, pair, treatments, value_before, work_cost,
    expected_gain, outcome, ended_on, price_paid, done (whether the sale says that the work was done), made (the price
    paid less the value before and the cost, where it was). `rule` is what the rule of buying would have earned with the
    kept lots; `profits` are those of the pairs of the stock that were sold, where a stock list is known.
    """

    as_of: date
    currency: str
    values: pl.DataFrame
    bands: pl.DataFrame
    prices: pl.DataFrame
    works: pl.DataFrame
    rule: Rule | None = None
    profits: Profits | None = None


def judge(
    settled: pl.DataFrame, *, as_of: date, currency: str, without_premium: Sequence[str] = ()
) -> Outcomes:
    """Return what became of kept values (rows of sql/outcomes/settled_values.sql).

    `without_premium` are the venues that take nothing from buyers: what they paid there is the price itself.
    """
    is_sold = pl.col("status").eq_missing(pl.lit("sold"))
    is_plain = (pl.col("price_basis") == "all-in") & pl.col("sold_at").is_in(list(without_premium))
    comparable = (
        is_sold
        & (pl.col("native_currency") == pl.col("price_currency"))
        & ((pl.col("price_basis") == "hammer") | is_plain)
    )
    values = settled.with_columns(
        outcome=pl.when(is_sold)
        .then(pl.lit(SOLD))
        .when(pl.col("status").is_not_null())
        .then(pl.lit(UNSOLD))
        .otherwise(pl.lit(OPEN)),
        days=(pl.col("ended_on") - pl.col("said_on")).dt.total_days(),
        price_paid=pl.when(is_sold).then("price_paid"),
        brought=pl.when(comparable).then("price_native"),
    ).with_columns(
        held=pl.col("price_paid").is_between("low", "high"),
        ratio=pl.col("price_paid") / pl.col("median"),
        share=pl.col("brought") / pl.when(pl.col("price") > 0).then("price"),
    )
    counted = _last_of_stock(values)
    once = counted.unique(_VALUE, keep="first", maintain_order=True)
    bands = (
        once.group_by("question", maintain_order=True)
        .agg(
            kept=pl.len(),
            sold=pl.col("price_paid").count(),
            held=pl.col("held").sum(),
            ratio=pl.col("ratio").median(),
        )
        .sort("question")
    )
    prices = (
        counted.drop_nulls("price_kind")
        .group_by("price_kind", "venue")
        .agg(
            kept=pl.len(),
            sold=(pl.col("outcome") == SOLD).sum(),
            unsold=(pl.col("outcome") == UNSOLD).sum(),
            known=pl.col("share").count(),
            reached=(pl.col("share") >= 1).sum(),
            share=pl.col("share").median(),
            days=pl.col("days").median(),
        )
        .sort("price_kind", "venue")
    )
    latest = values.sort("said_on", "pair", descending=[True, False])
    return Outcomes(as_of, currency, latest, bands, prices, _works(latest))


def _last_of_stock(values: pl.DataFrame) -> pl.DataFrame:
    """Return the values without those of the stock that a later one of the same pair, before its sale, replaced.

    The stock is valued again and again: a pair that waits long must not count more often than one that sells at once.
    """
    stock = (
        values.filter(pl.col("question") == STOCK)
        .sort("said_on")
        .unique(["stock_ref", "pair", "record_id"], keep="last", maintain_order=True)
    )
    return pl.concat([values.filter(pl.col("question") != STOCK), stock])


def _works(values: pl.DataFrame) -> pl.DataFrame:
    """Return the kept works with what they made; see `Outcomes.works`."""
    known = pl.col("price_paid").is_not_null() & pl.col("treatments_at_sale").is_not_null()
    left = pl.col("treatments").list.set_difference("treatments_at_sale").list.len()
    return (
        values.filter(pl.col("question") == WORK)
        .with_columns(done=pl.when(known).then(left == 0))
        .select(
            *("said_on", "stock_ref", "pair", "treatments", "value_before", "work_cost", "expected_gain"),
            *("outcome", "ended_on", "price_paid", "done"),
            made=pl.when("done").then(pl.col("price_paid") - pl.col("value_before") - pl.col("work_cost")),
        )
    )


def lots_within_limit(outcomes: Outcomes) -> tuple[int, int]:
    """Return (how many lots went for no more than the maximum bid, of how many whose hammer price is known)."""
    bids = outcomes.values.filter(pl.col("price_kind") == MAXIMUM_BID).drop_nulls("share")
    return int((bids["share"] <= 1).sum()), bids.height
