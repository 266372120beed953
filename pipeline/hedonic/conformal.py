"""Conformal quantiles: by tail, never narrower than the scores carry, and shrunk where they are few."""

from dataclasses import dataclass
from math import ceil, inf

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.distributions import student_density, student_quantile

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

FEWEST_IN_GROUP = 15


@dataclass(frozen=True)
class Limits:
    """The band scores of one period: (low, high), and each group's factor on both."""

    low: float
    high: float
    factors: Array


def conformal_quantile(values: Array, chance: float) -> float:
    """Return the k-th smallest value, k = ⌈(n + 1) · chance⌉; infinite where n values do not reach so far.

    A new value, exchangeable with these, lies at or below it with at least that chance (Lei et al. 2018).
    """
    place = ceil((len(values) + 1) * chance - 1e-9)
    if place > len(values):
        return inf
    return float(np.partition(values, max(place, 1) - 1)[max(place, 1) - 1])


def carried_quantile(values: Array, chance: float, degrees_of_freedom: float, *, absolute: bool) -> float:
    """Return the conformal quantile, or where the values do not reach so far one extrapolated by the model.

    The model's own quantile is widened by what the values ask for where they do reach, and is never
    below the largest of them. `absolute` values are those of |score|.
    """
    found = conformal_quantile(values, chance)
    if found < inf or not len(values):
        return found if len(values) else _model(chance, degrees_of_freedom, absolute)
    reached = 0.9 * len(values) / (len(values) + 1)
    wide = conformal_quantile(values, reached) / max(_model(reached, degrees_of_freedom, absolute), 1e-9)
    return max(float(values.max()), _model(chance, degrees_of_freedom, absolute) * max(wide, 1.0))


def limits_of(
    scores: Array, groups: Whole, count: int, below: float, above: float, degrees_of_freedom: float
) -> Limits:
    """Return the limits that leave `below` and `above` of new scores outside, by `count` groups.

    Where the two tails differ by less than their sampling error they are taken together, |score| for
    both; the more they differ, the more each has its own.
    """
    factors = group_factors(scores, groups, count, 1 - below - above, degrees_of_freedom)
    even = scores / np.append(factors, 1.0)[groups]
    size = np.abs(even)
    both_low = carried_quantile(size, 1 - 2 * below, degrees_of_freedom, absolute=True)
    both_high = carried_quantile(size, 1 - 2 * above, degrees_of_freedom, absolute=True)
    own_low = carried_quantile(
        -even, 1 - below, degrees_of_freedom, absolute=False
    )  # mutation: equivalent, None is no
    own_high = carried_quantile(
        even, 1 - above, degrees_of_freedom, absolute=False
    )  # mutation: equivalent, None is no
    error = np.hypot(
        _sampling_error(below, own_low, len(even), degrees_of_freedom),
        _sampling_error(above, own_high, len(even), degrees_of_freedom),
    )
    apart = (own_high - both_high) - (own_low - both_low)
    share = 0.0 if apart == 0 else max(0.0, 1 - (error / apart) ** 2)
    return Limits(
        -(share * own_low + (1 - share) * both_low), share * own_high + (1 - share) * both_high, factors
    )


def group_factors(scores: Array, groups: Whole, count: int, level: float, degrees_of_freedom: float) -> Array:
    """Return how much wider than all scores those of each group are at a level, shrunk towards 1.

    The log ratio of the quantiles of |score| is shrunk by its sampling error against the variance of
    groups about the whole (DerSimonian & Laird 1986), so that a group of few or alike scores gets 1.
    """
    size = np.abs(scores)
    ratios, errors = np.zeros(count), np.full(count, inf)
    # mutation: equivalent, no scores are too few for any group
    whole = float(np.quantile(size, level)) if len(size) else 0.0
    if not whole > 0:
        return np.ones(count)
    for group in range(count):
        own = size[groups == group]
        if len(own) >= FEWEST_IN_GROUP:
            wide = max(float(np.quantile(own, level)), 1e-3 * whole)
            ratios[group] = np.log(wide / whole)
            model = _model(level, degrees_of_freedom, absolute=True)
            errors[group] = (
                _sampling_error((1 - level) / 2, model, len(own), degrees_of_freedom) / model / np.sqrt(2)
            )
    weights = 1 / errors**2
    if np.sum(weights > 0) < 2:
        return np.ones(count)
    mean = float(weights @ ratios / weights.sum())
    excess = float(weights @ (ratios - mean) ** 2) - (np.sum(weights > 0) - 1)
    spread = max(0.0, excess / float(weights.sum() - weights @ weights / weights.sum()))
    with np.errstate(invalid="ignore"):  # mutation: equivalent, where an error is infinite the log ratio is 0
        # mutation: equivalent, an infinite error leaves nothing anyway
        shrunk = np.where(np.isinf(errors), 0.0, ratios * spread / (spread + errors**2))
    factors: Array = np.exp(shrunk)
    return factors


def _model(chance: float, degrees_of_freedom: float, absolute: bool) -> float:
    return student_quantile((1 + chance) / 2 if absolute else chance, degrees_of_freedom)


def _sampling_error(tail: float, place: float, number: int, degrees_of_freedom: float) -> float:
    """Return the standard error of one tail's quantile: √(p (1 - p) / n) over the model's density there."""
    # mutation: equivalent, a tail holds 0.49 of the scores at most
    near = min(abs(place), student_quantile(1 - min(max(tail, 1e-4), 0.4999), degrees_of_freedom) * 2)
    # mutation: equivalent, a calibration has thirty scores or more
    return float(np.sqrt(tail * (1 - tail) / max(number, 1)) / student_density(near, degrees_of_freedom))
