"""The Student-t distribution and its Gaussian limit, at a number of degrees of freedom that may be infinite."""

from math import exp, lgamma, pi, sqrt

import numpy as np


def student_quantile(chance: float, tails: float) -> float:
    """Return the value below which Student-t (infinite `tails`: Gaussian) lies with that chance."""
    from scipy.special import ndtri, stdtrit

    return float(ndtri(chance) if np.isinf(tails) else stdtrit(tails, chance))


def student_chance(place: float, tails: float) -> float:
    """Return the chance that Student-t (infinite `tails`: Gaussian) lies below a place."""
    from scipy.special import ndtr, stdtr

    return float(ndtr(place) if np.isinf(tails) else stdtr(tails, place))


def student_density(place: float, tails: float) -> float:
    """Return the density of Student-t (infinite `tails`: Gaussian) at a place."""
    if np.isinf(tails):
        return exp(-(place**2) / 2) / sqrt(2 * pi)
    constant = exp(lgamma((tails + 1) / 2) - lgamma(tails / 2)) / sqrt(tails * pi)
    return float(constant * (1 + place**2 / tails) ** (-(tails + 1) / 2))
