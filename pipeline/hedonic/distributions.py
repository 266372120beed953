"""The Gaussian and the Student-t distribution, at a number of degrees of freedom that may be infinite.

A few Gaussian chances are taken from the standard library, without loading scipy.special (the gain: pipeline/cli.py).
"""

from math import erfc, exp, lgamma, pi, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

FEW = 512
"""Up to so many chances are worked out one by one."""

_chance_below = np.frompyfunc(lambda place: erfc(-place / sqrt(2)) / 2, 1, 1)
_place_at = np.frompyfunc(NormalDist().inv_cdf, 1, 1)


def normal_chance(places: ArrayLike) -> Array:
    """Return the chance that the standard Gaussian lies below each place."""
    place = np.asarray(places, dtype=np.float64)
    if place.size <= FEW:  # mutation: equivalent, both ways give the same digits
        return np.asarray(_chance_below(place), dtype=np.float64)
    from scipy.special import ndtr

    return np.asarray(ndtr(place), dtype=np.float64)


def normal_quantile(chances: ArrayLike) -> Array:
    """Return the places below which the standard Gaussian lies with these chances; infinite at 0 and 1."""
    chance = np.asarray(chances, dtype=np.float64)
    # mutation: equivalent, both ways give the same digits
    if chance.size > FEW or np.any((chance <= 0) | (chance >= 1)):
        from scipy.special import ndtri

        return np.asarray(ndtri(chance), dtype=np.float64)
    return np.asarray(_place_at(chance), dtype=np.float64)


def student_quantile(chance: float, degrees_of_freedom: float) -> float:
    """Return the quantile at a chance of Student-t with these degrees of freedom (infinite: Gaussian)."""
    if np.isinf(degrees_of_freedom):
        return float(normal_quantile(chance))
    from scipy.special import stdtrit

    return float(stdtrit(degrees_of_freedom, chance))


def student_chance(place: float, degrees_of_freedom: float) -> float:
    """Return the chance that Student-t with these degrees of freedom (infinite: Gaussian) lies below a place."""
    if np.isinf(degrees_of_freedom):
        return float(normal_chance(place))
    from scipy.special import stdtr

    return float(stdtr(degrees_of_freedom, place))


def student_density(place: float, degrees_of_freedom: float) -> float:
    """Return the density of Student-t with these degrees of freedom (infinite: Gaussian) at a place."""
    if np.isinf(degrees_of_freedom):
        return exp(-(place**2) / 2) / sqrt(2 * pi)
    constant = exp(lgamma((degrees_of_freedom + 1) / 2) - lgamma(degrees_of_freedom / 2)) / sqrt(
        degrees_of_freedom * pi
    )
    return float(constant * (1 + place**2 / degrees_of_freedom) ** (-(degrees_of_freedom + 1) / 2))
