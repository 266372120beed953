"""Prices whose decimal mark looks misplaced: ten times, or a tenth of, what is fair."""

from math import log

import polars as pl

from pipeline.hedonic.predict import log_prices
from pipeline.market.fitted_market import FittedMarket

WITHIN = 0.3
"""In powers of ten: such a price lies within a factor of two of ten times, or a tenth of, the fair one …"""

WIDEST = 4.0
"""… and at least so many residual scales from it: in a market that wild, ten times is no error."""


def price_flags(fitted: FittedMarket, sales: pl.DataFrame) -> pl.DataFrame:
    """Return (record_id, flag), one row for each sale whose decimal mark looks misplaced.

    `sales` have the columns of sql/marts/sales_to_fit.sql. Nothing is changed or deleted: the fit's
    weights already keep such a price from moving the rest; the flag shows the owner where to look.
    """
    off = (sales["log_price"] - pl.Series(log_prices(fitted.fit, sales))).alias("off") / log(10)
    surely = off.abs() * log(10) > WIDEST * fitted.fit.residual_scale
    return (
        pl.DataFrame({"record_id": sales["record_id"], "off": off, "surely": surely})
        .filter(pl.col("surely"), (pl.col("off").abs() - 1).abs() < WITHIN)
        .select(
            "record_id",
            pl.when(pl.col("off") > 0)
            .then(pl.lit("price looks ten times too high"))
            .otherwise(pl.lit("price looks ten times too low"))
            .alias("flag"),
        )
        .sort("record_id")
    )
