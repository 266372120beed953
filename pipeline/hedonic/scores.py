"""Scores: errors on one common scale, so that those of unlike records can be ranked together.

The score of an error is the Student-t value of the same tail chance as the error has under the record's
own predictive distribution, N(0, variance) + scale × Student-t. If the model is right, scores are
Student-t with the fit's degrees_of_freedom, whatever the record. Where it is not, they are wider or narrower than
that, and how much may change with time.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.hedonic.bands import quantile_of_sum, sum_distribution

Array = NDArray[np.float64]

WALKS, LEAD = (0.01, 0.03, 0.1), 3.0
"""How far the log scale of scores may walk in a period (a standard deviation); by how much of log likelihood a wider
walk than the first must have predicted them better: some twenty times, so that few scores make none."""

ROUNDS, MOST_MOVED = 3, 0.7
"""The steps of Fisher scoring to the likeliest log scale after a period, and how far each goes at most."""

FAR = 60.0
"""Beyond so many scales the Student-t tail is all there is: the score is error / scale."""


def scores_of(errors: ArrayLike, variance: ArrayLike, scale: ArrayLike, degrees_of_freedom: float) -> Array:
    """Return the score of each error (log price), signed as the error is."""
    from scipy.special import stdtrit

    error, spread, wide = _beside(errors, variance, scale)
    if np.isinf(degrees_of_freedom):
        gaussian: Array = error / np.sqrt(spread + wide**2)
        return gaussian
    size = np.abs(error)
    score = size / wide
    # mutation: equivalent, no error has the score 0 either way
    mixed = (spread > 0) & (size < FAR * np.sqrt(spread + wide**2)) & (size > 0)
    chance = sum_distribution(-size[mixed], spread[mixed], wide[mixed], degrees_of_freedom)[0]
    # mutation: equivalent, a chance passes one half by a rounding at most
    score[mixed] = -stdtrit(degrees_of_freedom, np.minimum(chance, 0.5))
    signed: Array = score * np.sign(error)
    return signed


def errors_of(scores: ArrayLike, variance: ArrayLike, scale: ArrayLike, degrees_of_freedom: float) -> Array:
    """Return the error (log price) that has the score, for each record: the inverse of `scores_of`."""
    score, spread, wide = _beside(scores, variance, scale)
    if np.isinf(degrees_of_freedom):
        gaussian: Array = score * np.sqrt(spread + wide**2)
        return gaussian
    sizes, own = np.unique(np.abs(score), return_inverse=True)
    alone = np.zeros(len(sizes)), np.ones(len(sizes))
    above = 1 - sum_distribution(-sizes, *alone, degrees_of_freedom)[0]
    signed: Array = quantile_of_sum(spread, wide, degrees_of_freedom, above[own], sizes[own]) * np.sign(score)
    return signed


def scales_in_time(
    scores: Array,
    periods: NDArray[np.int64],
    degrees_of_freedom: float,
    fewest: int,
    walks: Sequence[float] = WALKS,
) -> Array:
    """Return (n + 1,): the scale of each score (n,) in the order of periods, and that of the period after the last.

    That of a period is predicted from strictly earlier ones; the first periods, until they have `fewest` scores, share
    their own. The log scale walks, and each period moves it to where it is likeliest, as a Kalman filter would, for
    scores that are Student-t (after Harvey 2013, Dynamic Models for Volatility and Heavy Tails). How far it walks in a
    period is the one of `walks` (rising) that had predicted the scores best until then, by LEAD against the first.
    """
    starts = np.flatnonzero(np.diff(periods, prepend=periods[0] - 1))
    first = int(np.append(starts, len(scores))[np.searchsorted(starts, min(fewest, len(scores)))])
    scales = np.full(len(scores) + 1, _scale_of(scores[:first], degrees_of_freedom))
    logs = np.full(len(walks), np.log(scales[0]))
    information = 2.0 if np.isinf(degrees_of_freedom) else 2 * degrees_of_freedom / (degrees_of_freedom + 3)
    variances = np.full(len(walks), 1 / (information * first))
    likelihoods = np.append(0.0, np.full(len(walks) - 1, -LEAD))
    before = periods[first - 1]
    for start, stop in pairwise([*starts[starts >= first], len(scores)]):
        variances = variances + np.square(walks) * (periods[start] - before)
        before = periods[start]
        scales[start:stop] = np.exp(logs[np.argmax(likelihoods)])
        squares = np.square(scores[start:stop] / np.exp(logs)[:, None])
        likelihoods -= _loss(squares, degrees_of_freedom) + (stop - start) * logs
        certainty = 1 + variances * information * (stop - start)
        predicted = logs
        for _ in range(ROUNDS):
            slopes = (squares * _weights(squares, degrees_of_freedom) - 1).sum(axis=1)
            step = (variances * slopes - (logs - predicted)) / certainty
            logs = logs + np.clip(step, -MOST_MOVED, MOST_MOVED)
            squares = np.square(scores[start:stop] / np.exp(logs)[:, None])
        variances = variances / certainty
    scales[-1] = np.exp(logs[np.argmax(likelihoods)])
    return scales


def _scale_of(scores: Array, degrees_of_freedom: float) -> float:
    """Return the most likely scale of Student-t scores; never quite zero."""
    squares = np.square(scores)
    least = max(1e-6 * float(squares.mean()), 1e-24)
    square = max(float(squares.mean()), least)
    for _ in range(50):
        square = max(float(np.mean(squares * _weights(squares / square, degrees_of_freedom))), least)
    return float(np.sqrt(square))


def _loss(squares: Array, degrees_of_freedom: float) -> Array:
    """Return less the log likelihood of each row of squared scores, but for what all have alike."""
    if np.isinf(degrees_of_freedom):
        gaussian: Array = squares.sum(axis=1) / 2
        return gaussian
    heavy: Array = (degrees_of_freedom + 1) / 2 * np.log1p(squares / degrees_of_freedom).sum(axis=1)
    return heavy


def _weights(squares: Array, degrees_of_freedom: float) -> Array:
    if np.isinf(degrees_of_freedom):
        return np.ones_like(squares)
    weights: Array = (degrees_of_freedom + 1) / (degrees_of_freedom + squares)
    return weights


def _beside(values: ArrayLike, variance: ArrayLike, scale: ArrayLike) -> tuple[Array, Array, Array]:
    value = np.atleast_1d(np.asarray(values, dtype=np.float64))
    spread = np.broadcast_to(np.asarray(variance, dtype=np.float64), value.shape)
    return value, spread, np.broadcast_to(np.asarray(scale, dtype=np.float64), value.shape)
