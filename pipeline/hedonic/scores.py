"""Scores: errors on one common scale, so that those of unlike records can be ranked together.

The score of an error is the Student-t value of the same tail chance as the error has under the record's
own predictive distribution, N(0, variance) + scale × Student-t. If the model is right, scores are
Student-t with the fit's degrees_of_freedom, whatever the record.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.hedonic.bands import quantile_of_sum, sum_distribution

Array = NDArray[np.float64]

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


def _beside(values: ArrayLike, variance: ArrayLike, scale: ArrayLike) -> tuple[Array, Array, Array]:
    value = np.atleast_1d(np.asarray(values, dtype=np.float64))
    spread = np.broadcast_to(np.asarray(variance, dtype=np.float64), value.shape)
    return value, spread, np.broadcast_to(np.asarray(scale, dtype=np.float64), value.shape)
