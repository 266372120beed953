"""From log price to per cent: what a dummy does to the price, and the error of that."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def kennedy(effect: ArrayLike, variance: ArrayLike) -> Array:
    """Return exp(c - V/2) - 1: the share by which a dummy moves the price, nearly unbiased (Kennedy 1981, AER 71).

    Without variance it is exp(c) - 1 (Halvorsen & Palmquist 1980, AER 70).
    """
    return np.expm1(np.asarray(effect, dtype=np.float64) - np.asarray(variance, dtype=np.float64) / 2)


def kennedy_error(effect: ArrayLike, variance: ArrayLike) -> Array:
    """Return the standard error of `kennedy`, as a share (van Garderen & Shah 2002).

    Its square is exp(2c)(exp(-V) - exp(-2V)).
    """
    effect = np.asarray(effect, dtype=np.float64)
    variance = np.asarray(variance, dtype=np.float64)
    error: Array = np.exp(effect) * np.sqrt(np.exp(-variance) - np.exp(-2 * variance))
    return error
