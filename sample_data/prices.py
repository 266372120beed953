"""What a pair is worth in truth, and what it fetched: the sum of the true effects, and the residual."""

import numpy as np
import polars as pl

from sample_data import scenario, truth
from sample_data.pairs import Draws, RealArray, cells

_CELL = ["silhouette", "colourway", "era"]


def true_log_prices(pairs: pl.DataFrame, *, day: str) -> pl.Series:
    """Return the log fair value in EUR, all-in, of each pair at its venue on its `day` column.

    `pairs` has the columns of `pairs.draw_pairs`, and venue.
    """
    months = (pl.col(day).dt.year() - scenario.FIRST_DAY.year) * 12 + (
        pl.col(day).dt.month() - scenario.FIRST_DAY.month
    )
    sums = (
        truth.BASE
        + pl.col("effect")
        + _effect("foot_mm", truth.FOOT_MM)
        + _effect("grade", truth.GRADES)
        + _effect("box", truth.BOX)
        + _effect("tags", truth.TAGS)
        + _effect("venue", truth.VENUES)
        + months.replace_strict(dict(enumerate(truth.MONTH_LEVELS)), return_dtype=pl.Float64)
        + _flags("parts", truth.PARTS)
        + _flags("defects", truth.DEFECTS)
        + _flags("treatments", truth.TREATMENTS)
        + (pl.col("run") == "original") * _flags("treatments", truth.TREATMENTS_ON_ORIGINALS)
    )
    priced = pairs.join(cells().select(*_CELL, "effect"), on=_CELL, how="left", maintain_order="left")
    return priced.select(sums.alias("true_log_price")).to_series()


def draw_residuals(grades: pl.Series, draws: Draws) -> RealArray:
    """Return one residual of log price for each grade: Student-t, wider at low grades."""
    scale = np.zeros(len(grades))
    for lowest, value in sorted(truth.SCALES.items()):
        scale = np.where(grades.to_numpy() >= lowest, value, scale)
    return np.asarray(scale * draws.standard_t(truth.DEGREES_OF_FREEDOM, len(grades)))


def _effect(column: str, effects: dict[str, float] | dict[int, float] | dict[float, float]) -> pl.Expr:
    return pl.col(column).replace_strict(effects, return_dtype=pl.Float64)


def _flags(column: str, effects: dict[str, float]) -> pl.Expr:
    return pl.sum_horizontal(
        pl.col(column).list.contains(name).cast(pl.Float64) * effect for name, effect in effects.items()
    )
