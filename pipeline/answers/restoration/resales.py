"""Pairs that were sold before and after: what was done in between, as far as the records say."""

import polars as pl

from pipeline.market.model import FACTORS
from pipeline.schema import UNKNOWN

LASTING: tuple[str, ...] = ("colourway", "era", "size_mm")
"""What a pair keeps, so that it may be read from either of its sales."""

USED = ""
"""The reason of a resale that counts."""


def resold_pairs(repeats: pl.DataFrame, sales: pl.DataFrame) -> pl.DataFrame:
    """Return one row a resale: its two sales side by side, what was done in between, and why it does not count.

    `repeats` has the columns of sql/marts/repeat_sales.sql, `sales` those of sql/marts/priced_sales.sql.
    Columns: pair_key, first_id, second_id, months (between), `<factor>_first` and `<factor>_second` for each of
    FACTORS, log_price_first, log_price_second, `between` (List(String), sorted: treatments that the second
    sale has and the first had not), `grade_change`, `reason` (USED where it counts). Work cannot be undone:
    a pair sold as never treated had nothing done before either. What a pair keeps is taken from
    either sale.
    """
    read = [*FACTORS, "log_price"]
    first = sales.select(pl.col("record_id").alias("first_id"), *(pl.col(read).name.suffix("_first"),))
    second = sales.select(pl.col("record_id").alias("second_id"), *(pl.col(read).name.suffix("_second"),))
    joined = (
        repeats.select("pair_key", "first_id", "second_id")
        .join(first, on="first_id")
        .join(second, on="second_id")
        .filter(pl.col("silhouette_first") == pl.col("silhouette_second"))
    )
    kept = joined.with_columns(
        expression
        for name in LASTING
        for expression in (
            pl.coalesce(f"{name}_first", f"{name}_second").alias(f"{name}_first"),
            pl.coalesce(f"{name}_second", f"{name}_first").alias(f"{name}_second"),
        )
    ).with_columns(_overlay("first", "second"), _overlay("second", "first"))
    before, after = pl.col("treatments_first"), pl.col("treatments_second")
    untouched = after.list.len() == 0
    return (
        kept.with_columns(pl.when(untouched).then(after).otherwise(before).alias("treatments_first"))
        .with_columns(
            after.list.set_difference(before).list.sort().alias("between"),
            (pl.col("grade_second") - pl.col("grade_first")).alias("grade_change"),
            (pl.col("month_second") - pl.col("month_first")).alias("months"),
        )
        .with_columns(_reason().alias("reason"))
        .sort("pair_key", "first_id")
    )


def did(treatment: str) -> pl.Expr:
    """Return whether a treatment was done between the two sales."""
    return pl.col("between").list.contains(treatment)


def side(resold: pl.DataFrame, which: str) -> pl.DataFrame:
    """Return the factors of one of the two sales ("first", "second"), in the columns of FACTORS."""
    return resold.select(pl.col(f"{name}_{which}").alias(name) for name in FACTORS)


def reasons(resold: pl.DataFrame) -> dict[str, int]:
    """Return how many resales do not count, by reason, the most frequent first."""
    counted = (
        resold.filter(pl.col("reason") != USED)
        .group_by("reason")
        .len()
        .sort("len", "reason", descending=[True, False])
    )
    return dict(counted.iter_rows())


def _overlay(own: str, other: str) -> pl.Expr:
    known = pl.col(f"overlay_{own}") != UNKNOWN
    return (
        pl.when(known)
        .then(pl.col(f"overlay_{own}"))
        .otherwise(pl.col(f"overlay_{other}"))
        .alias(f"overlay_{own}")
    )


def _reason() -> pl.Expr:
    return (
        pl.when(pl.col("treatments_second").is_null())
        .then(pl.lit("the later sale does not say what was restored"))
        .when(pl.col("treatments_first").is_null())
        .then(pl.lit("the earlier sale does not say what was restored"))
        .when(pl.col("grade_change").is_null())
        .then(pl.lit("a grade is not known"))
        .when(pl.col("defects_first").is_null() | pl.col("defects_second").is_null())
        .then(pl.lit("a sale does not say what defects there were"))
        .otherwise(pl.lit(USED))
    )
