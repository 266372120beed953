"""Neighbours: what the nearest earlier sales fetched beside their fitted prices.

A second stage of the value: a kernel-weighted mean of their residuals, shrunk towards zero, used only
where errors in time order fall by it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import step_extra
from pipeline.hedonic.rows import TermRows, rows_by_term

Array = NDArray[np.float64]

NEAREST = 20
CANDIDATES = 3
"""So many times NEAREST are found by worth alone, and ranked with the errors of their differences."""

BLOCK = 256
"""So many records are compared with their candidates at a time."""

CLIP = 2.0
"""A neighbour's residual counts for no more than so many scales of it."""

FAR_APART = 1e3
"""The distance (log price) between sales of different kinds: more than any worth."""

Z_95_ONE_SIDED = 1.6448536269514722
"""The normal quantile of 95 %: the gain must exceed its own sampling error by so much."""

FEWEST_PERIODS = 8


@dataclass(frozen=True)
class SecondStage:
    """Whether the neighbours' mean residual is used, and which share of it.

    `share` of it is added to the log price where `used`. `gain` is the fall of the mean absolute error
    (log price) in time order, `error` its standard error over periods. It is used if and only if the
    gain exceeds Z_95_ONE_SIDED times its error.
    """

    used: bool
    share: float
    gain: float
    error: float


UNUSED = SecondStage(False, 0.0, 0.0, 0.0)


def neighbour_residuals(
    fit: Fit,
    past: pl.DataFrame,
    residuals: Array,
    scale: Array,
    upcoming: pl.DataFrame,
    *,
    grouped: Mapping[str, str] | None = None,
    within: str | None = None,
    nearest: int = NEAREST,
    by_term: tuple[tuple[TermRows, ...], tuple[TermRows, ...]] | None = None,
) -> tuple[Array, Array]:
    """Return (mean residual of the nearest of `past`, its error) for each of `upcoming`, in log price.

    The distance is in log price, as of comparables: the root of the squared worth of each term's difference (summed
    first within `grouped` terms; walks left out) plus the variance of the difference. Only those with the same value
    of the column `within` count. The kernel is tricube, to the distance of the farthest of `nearest`; a residual
    weighs by the inverse square of its `scale`, and counts for CLIP of them at most. Zero without such sales.
    `by_term` are the design rows of `past` and of `upcoming`, where they are known.
    """
    from scipy.spatial import KDTree

    if not past.height or not upcoming.height:
        return np.zeros(upcoming.height), np.zeros(upcoming.height)
    walks = {walk.term for walk in fit.walks}
    all_theirs, all_ours = by_term or (rows_by_term(fit, past), rows_by_term(fit, upcoming))
    theirs = [term for term in all_theirs if term.term not in walks]
    ours = [term for term in all_ours if term.term not in walks]
    their_worth, our_worth = _worth(fit, theirs, grouped), _worth(fit, ours, grouped)
    kinds, own = np.zeros(past.height), np.zeros(upcoming.height)
    if within is not None:
        both = pl.concat([past[within], upcoming[within]]).rank("dense").fill_null(0).to_numpy()
        kinds, own = both[: past.height], both[past.height :]
        their_worth = np.column_stack([their_worth, FAR_APART * kinds])
        our_worth = np.column_stack([our_worth, FAR_APART * own])
    count = min(nearest, past.height)
    candidates = min(CANDIDATES * nearest, past.height)
    apart, found = KDTree(their_worth).query(our_worth, k=np.arange(1, candidates + 1))
    squared = apart**2 + _unshared_variance(fit, theirs, ours, found)
    kept = np.argpartition(squared, count - 1, axis=1)[:, :count]
    distance = np.sqrt(np.take_along_axis(squared, kept, axis=1))
    members = np.take_along_axis(found, kept, axis=1)
    distance = np.where(kinds[members] == own[:, None], distance, np.inf)
    reach = np.max(np.where(np.isinf(distance), 0.0, distance), axis=1, keepdims=True) * (1 + 1 / count)
    nearness = 1 - np.minimum(distance / np.maximum(reach, 1e-12), 1) ** 3
    kernel = nearness**3 / scale[members] ** 2
    clipped = np.clip(residuals, -CLIP * scale, CLIP * scale)
    total = np.maximum(np.sum(kernel, axis=1), 1e-300)
    mean = np.sum(kernel * clipped[members], axis=1) / total
    return mean, np.sqrt(np.sum((kernel * scale[members]) ** 2, axis=1)) / total


def _worth(fit: Fit, by_term: list[TermRows], grouped: Mapping[str, str] | None) -> Array:
    """Return (records, groups): what each record's levels are worth."""
    padded = np.append(fit.coefficients, 0.0)
    summed: dict[str, Array] = {}
    for term in by_term:
        group = term.term if grouped is None else grouped.get(term.term, term.term)
        worth = np.sum(padded[term.positions] * term.values, axis=1)
        summed[group] = summed[group] + worth if group in summed else worth
    return np.stack(list(summed.values()), axis=1)


def _unshared_variance(
    fit: Fit, theirs: list[TermRows], ours: list[TermRows], found: NDArray[np.int64]
) -> Array:
    """Return (records, candidates): the variance of the difference of all effects that are not shared.

    It is d'Vd, V the covariance of the coefficients and d the design row of ours less that of theirs, and what the
    coefficients do not carry (see `step_extra`): the same as the variance of the step from one to the other. A term
    with the same level on both sides is left out of d, where it would cancel.
    """
    codes = [_codes(their, our) for their, our in _beside(theirs, ours)]
    total = np.zeros(found.shape)
    for first in range(0, len(found), BLOCK):
        rows = np.arange(first, min(first + BLOCK, len(found)))
        places, steps = [], []
        past, own = found[rows].ravel(), np.repeat(rows, found.shape[1])
        extra = np.zeros(len(own))
        for (their, our), code in zip(_beside(theirs, ours), codes, strict=True):
            shared = code[past] == code[len(their.extra) + own]
            for side, at, sign in ((our, own, 1.0), (their, past, -1.0)):
                places.append(np.where(shared[:, None], fit.layout.size, side.positions[at]))
                steps.append(sign * side.values[at])
            if their.extra.any() or our.extra.any():
                extra += step_extra(their.taken(past), our.taken(own))
        variance = fit.covariance.quadratic(np.concatenate(places, axis=1), np.concatenate(steps, axis=1))
        total[rows] = (variance + extra).reshape(len(rows), -1)
    return np.maximum(total, 0)  # rounding leaves some below zero


def _codes(theirs: TermRows, ours: TermRows) -> NDArray[Any]:
    """Return a number for the level of each of their rows, then of ours: the same where the levels are the same."""
    plain = all(
        side.positions.shape[1] == 1 and not side.unseen.any() and (side.values == 1).all()
        for side in (theirs, ours)
    )
    if plain:
        return np.concatenate([theirs.positions[:, 0], ours.positions[:, 0]])
    return pl.concat([theirs.keys, ours.keys]).cast(pl.Categorical).to_physical().to_numpy()


def _beside(theirs: list[TermRows], ours: list[TermRows]) -> list[tuple[TermRows, TermRows]]:
    return list(zip(theirs, ours, strict=True))


def measure_second_stage(
    errors: Array, neighbours: Array, periods: NDArray[np.int64]
) -> tuple[SecondStage, Array]:
    """Return (the second stage, the share that is used at each record's period).

    `errors` and the mean residuals of `neighbours` (log price) come from rolling origins. The share of a
    period is the slope of errors on neighbours over strictly earlier periods, between 0 and 1; the gain is
    measured with those shares, so that no sale judges itself. Its error is over periods, since the sales
    of one share the market's surprises.
    """
    order = np.unique(periods)
    shares = np.zeros(len(errors))
    if len(order) < FEWEST_PERIODS:
        return UNUSED, shares
    cross, square = neighbours * errors, neighbours**2
    by_period = np.searchsorted(order, periods)
    crosses = np.cumsum(np.bincount(by_period, cross, len(order)))
    squares = np.cumsum(np.bincount(by_period, square, len(order)))
    slopes = np.clip(crosses / np.maximum(squares, 1e-300), 0, 1)
    shares = np.append(0.0, slopes[:-1])[by_period]
    gains = np.abs(errors) - np.abs(errors - shares * neighbours)
    counted = by_period > 0
    gain, error = mean_gain(gains[counted], by_period[counted])
    return SecondStage(gain > Z_95_ONE_SIDED * error, float(slopes[-1]), gain, error), shares


def mean_gain(gains: Array, periods: NDArray[np.int64]) -> tuple[float, float]:
    """Return (the mean of gains, its standard error over periods): the sales of one share the market's surprises."""
    _, by_period = np.unique(periods, return_inverse=True)
    sizes = np.bincount(by_period)
    gain = float(gains.mean())
    left = np.bincount(by_period, gains) - gain * sizes
    return gain, float(np.sqrt(np.sum(left**2) * len(sizes) / (len(sizes) - 1)) / sizes.sum())
