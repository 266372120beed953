"""The bands of pairs at a day: calibrated on later sales where the records allow, else the model's own."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.calibration import Calibration
from pipeline.hedonic.distributions import student_quantile
from pipeline.hedonic.predict import predict_rows
from pipeline.hedonic.rows import TermRows, rows_by_term
from pipeline.hedonic.scales import least_error, scales
from pipeline.hedonic.scores import errors_of
from pipeline.hedonic.second_stage import Asked, ask
from pipeline.market.attributes import attributes_by_term
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import group_of

Array = NDArray[np.float64]

LEVELS: tuple[float, ...] = (0.5, 0.8, 0.95)
"""The levels of the bands of an appraisal."""


@dataclass(frozen=True)
class Band:
    """An interval of the price, in the base currency, with its level (0.8 = 80 %)."""

    level: float
    low: float
    high: float


@dataclass(frozen=True)
class Values:
    """The values of pairs, in log price.

    `by_term` are the pairs' design rows, term by term. `predictions` has one row a pair (see `predict`), log_price
    without the second stage. `correction` is what that adds, `correction_error` the standard error
    that it has from its share (see SecondStage). `scale` is that of a single sale. `bands` has one row
    a pair and level: row, level, low, high.
    """

    by_term: tuple[TermRows, ...]
    predictions: pl.DataFrame
    correction: Array
    correction_error: Array
    scale: Array
    bands: pl.DataFrame


def value_pairs(fitted: FittedMarket, factors: pl.DataFrame, levels: Sequence[float]) -> Values:
    """Return the values of pairs (`factors`, columns of FACTORS, one row a pair).

    Raises FitError for a level outside (0, 1).
    """
    by_term = rows_by_term(fitted.fit, factors)
    predicted = predict_rows(fitted.fit, by_term, factors.height)
    log_price = predicted["log_price"].to_numpy()
    variance = np.maximum(predicted["estimation_variance"].to_numpy(), 0)
    scale = scales(fitted.scatter, factors, log_price)
    correction, error = second_stage_of(fitted, by_term, factors.height)
    centre = log_price + correction
    parts = [_bands(fitted, level, group_of(factors), centre, variance, scale) for level in levels]
    return Values(by_term, predicted, correction, error, scale, pl.concat(parts).sort("row", "level"))


def band_scores(fitted: FittedMarket, level: float, groups: Sequence[str]) -> tuple[Array, Array]:
    """Return the (low, high) scores of a band at `level`, one a pair of these groups (see `group_of`).

    See `scores_at`. Raises FitError for a level outside (0, 1).
    """
    if not 0 < level < 1:
        raise FitError(f"a band cannot have the level {level}", "give a share between 0 and 1.")
    return scores_at(level, groups, fitted.calibration, fitted.jackknife, fitted.fit.degrees_of_freedom)


def scores_at(
    level: float,
    groups: Sequence[str],
    calibration: Calibration | None,
    jackknife: Calibration | None,
    degrees_of_freedom: float,
) -> tuple[Array, Array]:
    """Return the (low, high) scores of a band, one a group.

    Those of the calibration where there is one; else those of the model, widened by what the fit's own sales
    showed, each left out.
    """
    if calibration is not None:
        return calibration.band(level, groups)
    high = np.full(len(groups), student_quantile((1 + level) / 2, degrees_of_freedom))
    low = -high
    if jackknife is not None:
        left_out = jackknife.band(level, groups)
        low, high = np.minimum(low, left_out[0]), np.maximum(high, left_out[1])
    return low, high


def _bands(
    fitted: FittedMarket, level: float, groups: list[str], centre: Array, variance: Array, scale: Array
) -> pl.DataFrame:
    low, high = band_errors(
        level, band_scores(fitted, level, groups), variance, scale, fitted.fit.degrees_of_freedom
    )
    return pl.DataFrame(
        {
            "row": np.arange(len(centre)),
            "level": np.full(len(centre), level),
            "low": centre + low,
            "high": centre + high,
        },
        schema_overrides={"row": pl.Int64},
    )


def band_errors(
    level: float, scores: tuple[Array, Array], variance: Array, scale: Array, degrees_of_freedom: float
) -> tuple[Array, Array]:
    """Return (low, high): how far the ends of bands with these scores lie from their centre, in log price.

    Never closer than `least_error`.
    """
    least = least_error(level)
    low, high = (errors_of(score, variance, scale, degrees_of_freedom) for score in scores)
    return np.minimum(low, -least), np.maximum(high, least)


def second_stage_of(fitted: FittedMarket, by_term: tuple[TermRows, ...], count: int) -> tuple[Array, Array]:
    """Return (what the second stage adds to each of `count` pairs, its standard error), in log price."""
    if fitted.trees is None:
        return np.zeros(count), np.zeros(count)
    learned = fitted.trees.predict(_asked(fitted, by_term))
    return fitted.second_stage.share * learned, fitted.second_stage.share_error * np.abs(learned)


def parts_of_correction(fitted: FittedMarket, by_term: tuple[TermRows, ...]) -> tuple[tuple[str, float], ...]:
    """Return what the second stage adds to a pair (log price) by attribute, and what it adds to every pair (""), last.

    They add up to its correction. `by_term` are the design rows of the one pair.
    """
    if fitted.trees is None:
        return ()
    trees, share = fitted.trees, fitted.second_stage.share
    parts = share * trees.shares(_asked(fitted, by_term))
    return (*zip(trees.attributes, parts.tolist(), strict=True), ("", share * trees.common))


def _asked(fitted: FittedMarket, by_term: tuple[TermRows, ...]) -> Asked:
    """Return what is known of pairs, as the trees ask for it."""
    return ask(fitted.fit, by_term, attributes_by_term(fitted.fit.specification.terms))
