"""How busy each venue was: sold, unsold, sell-through and days on market, by quarter."""

from dataclasses import dataclass
from datetime import date

import polars as pl

FEWEST_TIMED = 5
"""Fewer timed sales than this in a quarter give no median of days."""


@dataclass(frozen=True)
class Activity:
    """One quarter of one venue.

    `sell_through` is sold / (sold + unsold), None where the venue's exports hold no unsold offer at all
    (they list sales only) or none ended. `days` is the median of days from first offer to sale among the
    sold ones whose first day is known, None where they are fewer than FEWEST_TIMED. `turnover` is the sum
    of all-in prices in the base currency.
    """

    quarter: date
    venue: str
    sold: int
    unsold: int
    withdrawn: int
    sell_through: float | None
    days: float | None
    turnover: float


def activity_of(quarters: pl.DataFrame) -> tuple[Activity, ...]:
    """Return the quarters of sql/marts/market_activity.sql with sell-through and days, in its order."""
    ended = pl.col("sold") + pl.col("unsold")
    measured = quarters.with_columns(
        pl.when((pl.col("unsold").sum().over("venue") > 0) & (ended > 0))
        .then(pl.col("sold") / ended)
        .alias("sell_through"),
        pl.when(pl.col("timed") >= FEWEST_TIMED).then("days_to_sale").alias("days"),
    )
    return tuple(
        Activity(**row)
        for row in measured.select(
            "quarter", "venue", "sold", "unsold", "withdrawn", "sell_through", "days", "turnover"
        ).iter_rows(named=True)
    )
