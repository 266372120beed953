"""The dirt in the exports: typing errors and contradictions, each known and counted."""

import numpy as np
import polars as pl

from sample_data import scenario
from sample_data.pairs import Draws

TEN_TIMES = "price ten times too high"
A_TENTH = "price ten times too low"
NO_SUCH_DAY = "no such day"
NEGATIVE_PRICE = "negative price"
NO_PRICE = "sold without a price"
NO_SUCH_SIZE = "size that cannot be"
ERA_CONFLICT = "era in conflict"

COUNTS: dict[str, int] = {
    TEN_TIMES: 10,
    A_TENTH: 9,
    NO_SUCH_DAY: 8,
    NEGATIVE_PRICE: 5,
    NO_PRICE: 7,
    NO_SUCH_SIZE: 8,
    ERA_CONFLICT: 26,
}
"""How many offers have each fault; no offer has two."""

NO_RECORD: dict[str, str] = {
    NO_SUCH_DAY: "closed_on",
    NEGATIVE_PRICE: "price_native",
    NO_PRICE: "price_native",
}
"""The faults that leave no sale record, and the field that is wrong."""


def add_faults(offers: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Add fault (a key of COUNTS, or null), to sold offers whose pair is offered only once.

    Adds stamp_year too, as `contradict` does.
    """
    alone = pl.col("status").eq("sold") & pl.col("pair").is_unique() & pl.col("logged_twice").not_()
    eligible = offers.select(alone).to_series().arg_true().to_numpy()
    chosen = draws.permutation(eligible)[: sum(COUNTS.values())]
    names = np.repeat(list(COUNTS), list(COUNTS.values()))
    faults = pl.DataFrame({"at": chosen, "fault": names}).cast({"at": pl.UInt32})
    return (
        offers.with_row_index("at")
        .join(faults, on="at", how="left", maintain_order="left")
        .drop("at")
        .pipe(contradict)
    )


def contradict(pairs: pl.DataFrame) -> pl.DataFrame:
    """Add stamp_year: the production year, or the year of another era where `fault` is ERA_CONFLICT."""
    eras = scenario.market().eras
    other_year = {era.name: eras[(at + 2) % len(eras)].first_year + 2 for at, era in enumerate(eras)}
    return pairs.with_columns(
        stamp_year=pl.when(pl.col("fault") == ERA_CONFLICT)
        .then(pl.col("era").replace_strict(other_year, return_dtype=pl.Int32))
        .otherwise("production_year")
    )


def mistyped(price: pl.Expr) -> pl.Expr:
    """Return the price with its misplaced decimal marks and its lost sign; null where it was not entered."""
    fault = pl.col("fault")
    return (
        pl.when(fault == TEN_TIMES)
        .then(price * 10)
        .when(fault == A_TENTH)
        .then((price / 10).round().cast(pl.Int64))
        .when(fault == NEGATIVE_PRICE)
        .then(-price)
        .when(fault == NO_PRICE)
        .then(pl.lit(None, dtype=pl.Int64))
        .otherwise(price)
    )
