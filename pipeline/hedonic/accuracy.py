"""Accuracy: how far values lay from the prices that came after them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

REPLICATES = 500


@dataclass(frozen=True)
class Accuracy:
    """Of so many sales: `mdape`, the median |value − price| / price, and the shares within 10 and 20 %."""

    sales: int
    mdape: float
    within_10: float
    within_20: float


@dataclass(frozen=True)
class Margin:
    """By how much one MdAPE is below another, with its 95 % interval (positive: better)."""

    value: float
    low: float
    high: float


def percentage_errors(log_values: Array, log_prices: Array) -> Array:
    """Return |value − price| / price of each sale, from logarithms."""
    errors: Array = np.abs(np.expm1(log_values - log_prices))
    return errors


def accuracy(errors: Array) -> Accuracy:
    """Return the accuracy that percentage errors (shares) amount to; NaN without sales."""
    if not len(errors):
        return Accuracy(0, float("nan"), float("nan"), float("nan"))
    return Accuracy(
        len(errors), float(np.median(errors)), float(np.mean(errors <= 0.1)), float(np.mean(errors <= 0.2))
    )


def margin(ours: Array, theirs: Array, periods: NDArray[np.int64], *, seed: int) -> Margin:
    """Return how far the MdAPE of `ours` lies below that of `theirs`, sale by sale the same.

    The interval is a bootstrap of whole periods, since the sales of one share the market's surprises.
    """
    if not len(ours):
        return Margin(float("nan"), float("nan"), float("nan"))
    draws = np.random.default_rng(seed)
    names, inverse = np.unique(periods, return_inverse=True)
    order = np.argsort(inverse, kind="stable")
    members = np.split(order, np.cumsum(np.bincount(inverse))[:-1])
    drawn = np.empty(REPLICATES)
    for replicate in range(REPLICATES):
        some = np.concatenate([members[name] for name in draws.integers(0, len(names), len(names))])
        drawn[replicate] = np.median(theirs[some]) - np.median(ours[some])
    low, high = np.quantile(drawn, [0.025, 0.975])
    return Margin(float(np.median(theirs) - np.median(ours)), float(low), float(high))
