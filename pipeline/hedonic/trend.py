"""The trend: where the market's level is in its last months and beyond them, used only where it pays in time order."""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.fitted import Fit, Trend
from pipeline.hedonic.layout import ordered_groups
from pipeline.hedonic.rows import TermRows, slope_row, stack, walk_levels
from pipeline.hedonic.second_stage import FEWEST_PERIODS, Z_95_ONE_SIDED, mean_gain

Array = NDArray[np.float64]


class Shape(NamedTuple):
    """A slope over so many months, and the share of it that is left after each month."""

    months: int
    damping: float


SHAPES = tuple(Shape(months, damping) for months in (12, 24, 36) for damping in (0.8, 0.95))
"""The trends that are tried."""

LEAST_SHOWN = 0.5
"""A walk that is shrunk so much that it shows less of a steady slope says nothing of it."""

CLIP = 2.0
"""An error counts for no more than so many scales of it."""


@dataclass(frozen=True)
class TrendStage:
    """Whether a trend is used, and which.

    `gain` is the fall of the mean absolute error (log price) in time order, with the trend that had served best at each
    time, and `error` its standard error over origins. `share` is the slope of the errors without a trend on what that
    trend predicted, and `share_error` its standard error: zero where a trend predicts nothing, one where it predicts
    all it should. The trend is used if and only if it predicted something at FEWEST_PERIODS origins (the first aside),
    errors fell, and the share exceeds Z_95_ONE_SIDED times its error. `months` and `damping` are of the trend that
    served best of all (0: none did). `pace` is the slope of that one (or of the first of SHAPES) at the end of all
    records, in log price a month; None where they show none.
    """

    used: bool
    months: int
    damping: float
    gain: float
    error: float
    share: float
    share_error: float
    pace: float | None = None


NO_TREND = TrendStage(False, 0, 0.0, 0.0, 0.0, 0.0, 0.0)


def find_trend(fit: Fit, period: str, shape: Shape) -> Trend | None:
    """Return the trend of the walk over `period` alone; None where there is none, or it shows too little of a slope.

    What a penalty does to a steady slope follows from the fit: the estimates' bias is -V S r (sigma² = 1) where the
    walk is a straight line r, S being its penalty and V their covariance. Where the records begin, levels are ahead of
    a rising line rather than behind: the slope of the last months says nothing of those, and their lag is zero.
    """
    for penalty in fit.layout.penalties:
        factor = fit.factor(penalty.term)
        if factor.term.kind != "walk" or factor.term.columns != (period,):
            continue
        [(members, reference)] = ordered_groups(factor)
        places = fit.layout.positions[factor.start + members]
        levels = walk_levels(factor)
        if levels[-1] - levels[0] < shape.months:
            return None
        straight = np.zeros(fit.layout.size + 1)
        straight[places] = levels - levels[members == reference]
        pull = np.zeros(fit.layout.size)
        pull[penalty.span] = penalty.times(straight[penalty.span])
        bias = np.append(-fit.lambdas[penalty.term] / fit.sigma2 * (fit.covariance @ pull), 0.0)
        lags = np.maximum(-bias[0] - bias[places], 0)
        trend = Trend(penalty.term, shape.months, shape.damping, 1.0, tuple(lags.tolist()))
        positions, values = slope_row(fit, trend)
        span = float((straight + bias)[positions] @ values)
        return None if span < LEAST_SHOWN * shape.months else replace(trend, span=span)
    return None


def slope_of(fit: Fit, trend: Trend) -> float:
    """Return the slope of a trend, in log price a month."""
    positions, values = slope_row(fit, trend)
    return float(np.append(fit.coefficients, 0.0)[positions] @ values)


def with_trend(fit: Fit, period: str, stage: TrendStage) -> tuple[Fit, TrendStage]:
    """Return the fit of all records with the trend that was found to serve, and the stage with its pace."""
    trend = find_trend(fit, period, Shape(stage.months, stage.damping) if stage.months else SHAPES[0])
    if trend is None:
        return fit, replace(stage, used=False)
    return replace(fit, trend=trend if stage.used else None), replace(stage, pace=slope_of(fit, trend))


def moves_at(fit: Fit, period: str, by_term: tuple[TermRows, ...], periods: Array) -> tuple[Array, Array]:
    """Return (moves, variances), each (records, SHAPES): what each trend adds to log prices and to their variances.

    `by_term` are the design rows of records by the fit without a trend, `periods` theirs.
    """
    rows = len(periods)
    moves, variances = np.zeros((rows, len(SHAPES))), np.zeros((rows, len(SHAPES)))
    positions, values = stack(by_term, rows)
    for number, shape in enumerate(SHAPES):
        trend = find_trend(fit, period, shape)
        if trend is None:
            continue
        slope = np.zeros(fit.layout.size + 1)
        for place, weight in zip(*slope_row(fit, trend), strict=True):
            slope[place] += weight
        slope[-1] = 0.0
        spread = np.append(fit.covariance @ slope[:-1], 0.0)
        steps = trend.steps(walk_levels(fit.factor(trend.term)), periods)
        moves[:, number] = steps * float(fit.coefficients @ slope[:-1])
        shared = np.sum(spread[positions] * values, axis=1)
        variances[:, number] = 2 * steps * shared + steps**2 * float(spread @ slope)
    return moves, variances


def measure_trend(
    errors: Array, moves: Array, scale: Array, origins: NDArray[np.int64]
) -> tuple[TrendStage, NDArray[np.int64]]:
    """Return (the trend, the number of the shape that had served best before each record's origin, -1 for none).

    `errors` and their `scale` (records,) and `moves` (records, SHAPES), in log price, come from rolling origins. A
    shape is chosen by the absolute errors of strictly earlier origins, so that no sale judges itself. A trend is small
    beside the scatter of single sales: the fall of their errors shows it late, the slope of errors on moves twice as
    soon. That slope is Huber's in one step from zero: an error counts for CLIP scales at most, so that no mistyped
    price decides. Where the market has no trend, what comes after an origin has no mean given what was predicted there,
    so that the products of errors and moves of different origins are uncorrelated: their error is over origins.
    """
    order = np.unique(origins)
    if len(order) < FEWEST_PERIODS:
        return NO_TREND, np.full(len(errors), -1)
    by_origin = np.searchsorted(order, origins)
    falls = np.abs(errors)[:, None] - np.abs(errors[:, None] - moves)
    by_shape = np.stack([np.bincount(by_origin, fall, len(order)) for fall in falls.T], axis=1)
    known = np.pad(np.cumsum(by_shape, axis=0), ((1, 0), (1, 0)))
    best = np.argmax(known, axis=1) - 1
    chosen = best[by_origin]
    used = taken(moves, chosen)
    counted = by_origin > 0
    gain, error = mean_gain((np.abs(errors) - np.abs(errors - used))[counted], by_origin[counted])
    clipped = np.clip(errors, -CLIP * scale, CLIP * scale)
    parts = (used * clipped, used**2 * (clipped == errors))
    cross, square = (np.bincount(by_origin, part, len(order)) for part in parts)
    shape = SHAPES[best[-1]] if best[-1] >= 0 else Shape(0, 0.0)
    tried = int(np.count_nonzero(square))
    if tried < FEWEST_PERIODS - 1:
        return TrendStage(False, shape.months, shape.damping, gain, error, 0.0, 0.0), chosen
    share = float(cross.sum() / square.sum())
    left = cross - share * square
    share_error = float(np.sqrt(np.sum(left**2) * tried / (tried - 1)) / square.sum())
    serves = best[-1] >= 0 and gain > 0 and share > Z_95_ONE_SIDED * share_error
    return TrendStage(serves, shape.months, shape.damping, gain, error, share, share_error), chosen


def taken(by_shape: Array, chosen: NDArray[np.int64]) -> Array:
    """Return (records,) of (records, SHAPES) what the chosen shape has; zero for none (-1)."""
    padded = np.pad(by_shape, ((0, 0), (0, 1)))
    found: Array = np.take_along_axis(padded, chosen[:, None], axis=1)[:, 0]
    return found
