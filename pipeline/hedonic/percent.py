"""From log price to per cent and money: effects of dummies, and means where medians will not do.

exp(log price) is a median. No factor belongs on it; `duan_smearing` is for those who need a mean.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def halvorsen_palmquist(effect: ArrayLike) -> Array:
    """Return exp(c) - 1, the share by which a dummy moves the price (Halvorsen & Palmquist 1980, AER 70)."""
    return np.expm1(np.asarray(effect, dtype=np.float64))


def kennedy(effect: ArrayLike, variance: ArrayLike) -> Array:
    """Return exp(c - V/2) - 1, nearly unbiased for the same share (Kennedy 1981, AER 71)."""
    return np.expm1(np.asarray(effect, dtype=np.float64) - np.asarray(variance, dtype=np.float64) / 2)


def kennedy_error(effect: ArrayLike, variance: ArrayLike) -> Array:
    """Return the standard error of `kennedy`, as a share (van Garderen & Shah 2002).

    Its square is exp(2c)(exp(-V) - exp(-2V)).
    """
    effect = np.asarray(effect, dtype=np.float64)
    variance = np.asarray(variance, dtype=np.float64)
    error: Array = np.exp(effect) * np.sqrt(np.exp(-variance) - np.exp(-2 * variance))
    return error


def duan_smearing(residuals: ArrayLike) -> float:
    """Return the mean of exp(residual), the factor from a median to a mean (Duan 1983, JASA 78)."""
    return float(np.mean(np.exp(np.asarray(residuals, dtype=np.float64))))
