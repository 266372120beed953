"""The dealer's own lists: lots to come at the two auction houses, and the pairs in the shop, now and before."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from sample_data import scenario
from sample_data.faults import ERA_CONFLICT, contradict
from sample_data.generator import draw_unpriced
from sample_data.histories import add_stamps
from sample_data.labels import size_label, stamp_text
from sample_data.money import with_native_amounts
from sample_data.offers import add_terms
from sample_data.pairs import Draws
from sample_data.prices import true_log_prices
from sample_data.sayings import leave_unsaid
from sample_data.scenario import COUNTER, HOLM, UMIKAZE
from sample_data.titles import write_titles

LOTS = 40
STOCK = 25
EARLIER = date(2026, 7, 1)
"""The day of the earlier stock list."""

SOLD_SINCE = 6
ERA_CONFLICTS = 2
TOO_GOOD = 2
UNKNOWN_SILHOUETTE = "Kittiwake Hi"
"""A silhouette that the market file does not know, on one of the lots."""

_UNKNOWN_AT = LOTS - 1
_LOT_NUMBER = (pl.col("pair") + 101).cast(pl.String)
_LIST_MARK = "; "


@dataclass(frozen=True)
class PairList:
    """One list as CSV, and the true fair value of each pair on it.

    `fair_values`: lot or stock number → EUR, all-in, at its venue at the level of the last month. What
    is not known on the list is known here.
    """

    content: bytes
    fair_values: dict[str, float]


def make_upcoming_lots(*, seed: int) -> PairList:
    """Return the watch list: 40 lots with the present bid and the estimates.

    Two have a stamp that contradicts the stated era, two are estimated at a quarter of their value, and
    one is of a silhouette that is not known: it has no fair value.
    """
    draws = np.random.Generator(np.random.PCG64([seed, 1_000_039]))
    lots = draw_unpriced(4 * LOTS, draws).filter(pl.col("venue").is_in([HOLM, UMIKAZE])).head(LOTS)
    lots = lots.rename({"sold_on": "closed_on"}).with_columns(closed_on=pl.lit(scenario.LAST_DAY))
    terms = add_terms(add_stamps(lots, draws), draws, sold_only=True).with_row_index("pair")
    at = pl.col("pair")
    quarter = pl.when(at.is_between(ERA_CONFLICTS, ERA_CONFLICTS + TOO_GOOD - 1)).then(0.25).otherwise(1.0)
    bid_so_far = pl.lit(pl.Series(draws.uniform(0.3, 0.9, LOTS)))
    priced = with_native_amounts(
        terms.with_columns(
            ask=pl.col("ask") * quarter,
            price_paid=pl.col("price_paid") * quarter * bid_so_far,
            fault=pl.when(at < ERA_CONFLICTS).then(pl.lit(ERA_CONFLICT)),
        )
    ).pipe(contradict)
    days = pl.lit(pl.Series(draws.integers(0, 6, LOTS))) * 7
    first = pl.when(pl.col("venue") == HOLM).then(pl.date(2026, 10, 10)).otherwise(pl.date(2026, 10, 11))
    tables = [
        _lot_columns(leave_unsaid(part, venue, draws), venue, draws)
        for venue in (HOLM, UMIKAZE)
        for part in [priced.with_columns(closes=first + pl.duration(days=days)).filter(venue=venue)]
    ]
    known = priced.filter(at != _UNKNOWN_AT)
    return PairList(
        pl.concat(tables).sort("closes", "venue", "lot").write_csv().encode(),
        _fair_values(known.select(_LOT_NUMBER).to_series(), true_log_prices(known, day="closed_on")),
    )


def make_stock(*, seed: int, after: int) -> PairList:
    """Return the stock list: 25 pairs with what each has cost, most of them in want of work.

    Their stock numbers go on from `after`.
    """
    draws = np.random.Generator(np.random.PCG64([seed, 1_000_081]))
    drawn = draw_unpriced(20 * STOCK, draws).with_columns(
        venue=pl.lit(COUNTER), sold_on=pl.lit(scenario.LAST_DAY), fault=pl.lit(None, dtype=pl.String)
    )
    wanting = drawn.filter(pl.col("defects").list.len() > 0, pl.col("grade").is_between(3.5, 7.5))
    pairs = pl.concat([wanting.head(STOCK - 3), drawn.filter(pl.col("grade") >= 9).head(3)])
    pairs = add_stamps(pairs, draws).with_row_index("pair").with_columns(stamp_year="production_year")
    fair = true_log_prices(pairs, day="sold_on")
    paid = np.exp(fair.to_numpy() + draws.uniform(-0.75, -0.25, STOCK))
    said = leave_unsaid(pairs, COUNTER, draws).with_columns(size=pl.format("UK {}", size_label("UK")))
    bought = scenario.LAST_DAY - pl.duration(days=pl.lit(pl.Series(draws.integers(5, 200, STOCK))))
    table = said.with_columns(write_titles(said, COUNTER, draws)).select(
        stock=pl.format("TP-{}", (after + 1 + pl.col("pair")).cast(pl.String).str.zfill(4)),
        bought=bought.dt.strftime("%Y-%m-%d"),
        cost=pl.Series(np.round(paid, 2)).cast(pl.Decimal(10, 2)).cast(pl.String),
        title=pl.col("title"),
        maker=pl.col("maker"),
        silhouette=pl.col("silhouette"),
        colourway=pl.col("colourway"),
        era=pl.col("era"),
        size=pl.col("size"),
        grade=pl.col("grade"),
        box=pl.col("box"),
        tags=pl.col("tags"),
        parts=_listed("parts"),
        overlay=pl.col("overlay"),
        lasting=pl.col("lasting"),
        defects=_listed("defects"),
        treatments=_listed("treatments"),
        stamp=stamp_text("year first"),
        notes=pl.when(pl.col("grade") >= 9).then(pl.lit("on consignment")),
    )
    table = _with_terms(table, fair.exp())
    return PairList(table.write_csv().encode(), _fair_values(table["stock"], fair))


def make_earlier_stock(stock: PairList, offers: pl.DataFrame) -> bytes:
    """Return the stock list of three months before: what was there already, and pairs that were sold since.

    What was worked on since was half a grade worse then, and every ask was a tenth higher. The last two pairs stand
    under one number, and the cost of the first has no currency.
    """
    now = pl.read_csv(stock.content, schema_overrides={"cost": pl.Float64}).with_columns(
        pl.col("bought").str.to_date(), pl.col("grade").cast(pl.Float64)
    )
    there = now.filter(pl.col("bought") <= EARLIER).with_columns(
        ask=5 * (1.1 * pl.col("ask") / 5).round().cast(pl.Int64),
        grade=pl.col("grade") - pl.when(pl.col("work").is_not_null()).then(0.5).otherwise(0.0),
        work=pl.lit(None, dtype=now.schema["work"]),
    )
    sold = offers.filter(
        pl.col("stock_ref").is_not_null(),
        pl.col("fault").is_null(),
        pl.col("status") == "sold",
        pl.col("venue") == COUNTER,
        pl.col("offered_on").is_between(EARLIER - timedelta(days=60), EARLIER - timedelta(days=5)),
        pl.col("closed_on") > EARLIER,
    )
    left = (
        sold.sort("stock_ref")
        .head(SOLD_SINCE)
        .select(
            stock=pl.col("stock_ref"),
            bought=pl.col("offered_on") - pl.duration(days=12),
            cost=(0.55 * pl.col("price_paid")).round(2),
            title=pl.concat_str("silhouette", "colourway", separator=" "),
            maker=pl.col("maker"),
            silhouette=pl.col("silhouette"),
            colourway=pl.col("colourway"),
            era=pl.col("era"),
            size=pl.format("UK {}", size_label("UK")),
            grade=pl.col("grade"),
            ask=5 * (pl.col("ask") / 5).round().cast(pl.Int64),
            currency=pl.lit("EUR"),
            where=pl.lit(COUNTER),
        )
    )
    lists = pl.concat([left, there.select(pl.col(name) for name in now.columns)], how="diagonal").select(
        now.columns
    )
    number = pl.when(pl.int_range(pl.len()) == pl.len() - 1).then(pl.col("stock").shift(1)).otherwise("stock")
    currency = pl.when(pl.int_range(pl.len()) > 0).then("currency")
    return (
        lists.with_columns(number.alias("stock"), currency.alias("currency"))
        .write_csv(float_precision=2)
        .encode()
    )


def _with_terms(table: pl.DataFrame, fair: pl.Series) -> pl.DataFrame:
    """Return the stock list with what was spent on every third pair, and asks for two in three, at the counter."""
    at = pl.int_range(pl.len())
    is_asked = at % 3 != 2
    return table.with_columns(
        work=pl.when(at % 3 == 0).then(8 + at),
        ask=pl.when(is_asked).then(5 * (1.15 * pl.lit(fair) / 5).round().cast(pl.Int64)),
        currency=pl.lit("EUR"),
        where=pl.when(is_asked).then(pl.lit(COUNTER)),
    )


def _lot_columns(lots: pl.DataFrame, venue: str, draws: Draws) -> pl.DataFrame:
    """Return the columns of the watch list for the lots of one house."""
    named = pl.when(pl.col("pair") == _UNKNOWN_AT).then(pl.lit(UNKNOWN_SILHOUETTE)).otherwise("silhouette")
    lots = lots.with_columns(silhouette=named)
    size = pl.format("EU {}", size_label("EU")) if venue == HOLM else pl.format("{} cm", size_label("JP"))
    return lots.with_columns(write_titles(lots, venue, draws)).select(
        "venue",
        sale=pl.col("closes").dt.strftime("%Y-%m-%d"),
        lot=_LOT_NUMBER,
        title=pl.col("title"),
        closes=pl.col("closes").dt.strftime("%Y-%m-%d"),
        currency=pl.col("currency"),
        present_bid=pl.col("price_native"),
        low_estimate=pl.col("ask_native"),
        high_estimate=pl.col("high_native"),
        silhouette=pl.col("silhouette"),
        colourway=pl.col("colourway"),
        era=pl.col("era"),
        size=size,
        grade=pl.col("grade"),
        box=pl.col("box"),
        tags=pl.col("tags"),
        defects=_listed("defects"),
        treatments=_listed("treatments"),
        stamp=stamp_text("slashed"),
    )


def _listed(column: str) -> pl.Expr:
    """Return a list as one cell: "none" where somebody looked and found none, null where nobody did."""
    return (
        pl.when(pl.col(column).list.len() == 0)
        .then(pl.lit("none"))
        .otherwise(pl.col(column).list.join(_LIST_MARK))
    )


def _fair_values(numbers: pl.Series, log_prices: pl.Series) -> dict[str, float]:
    """Return number → fair value in EUR, to the cent."""
    return dict(zip(numbers, log_prices.exp().round(2), strict=True))
