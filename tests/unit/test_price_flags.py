"""A price ten times too high or too low is flagged, and nothing else."""

import polars as pl

from pipeline.market.price_flags import price_flags
from tests import drawn


def flagged(times: float) -> dict[str, str]:
    sales = drawn.sales(1500, 11)
    mistyped = (
        pl.when(pl.col("record_id") == "000700")
        .then(pl.col("log_price") + pl.lit(times).log())
        .otherwise("log_price")
    )
    odd_already = price_flags(drawn.fitted(), sales)
    flags = price_flags(drawn.fitted(), sales.with_columns(mistyped.alias("log_price")))
    return dict(flags.join(odd_already, on="record_id", how="anti").iter_rows())


def test_a_price_ten_times_too_high_is_flagged() -> None:
    assert flagged(10.0) == {"000700": "price looks ten times too high"}


def test_a_price_ten_times_too_low_is_flagged() -> None:
    assert flagged(0.1) == {"000700": "price looks ten times too low"}


def test_a_price_that_is_only_high_is_not_flagged() -> None:
    assert flagged(2.0) == {}


def test_hardly_any_honest_price_is_flagged() -> None:
    assert price_flags(drawn.fitted(), drawn.sales(1500, 11)).height <= 3
