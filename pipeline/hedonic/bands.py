"""Bands: predictive quantiles of one sale, from estimation variance and the errors' own degrees of freedom."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.distributions import normal_chance, normal_quantile

Array = NDArray[np.float64]

NODES = 96


def half_width(variance: Array, scale: Array, degrees_of_freedom: float, level: float | Array) -> Array:
    """Return the half width of a central band of N(0, variance) + scale × Student-t with these degrees of freedom.

    `level` is one number or one a record.
    """
    above = (1 + level) / 2
    if np.isinf(degrees_of_freedom):
        gaussian: Array = normal_quantile(above) * np.sqrt(variance + scale**2)
        return gaussian
    from scipy.special import stdtrit

    return quantile_of_sum(
        variance,
        scale,
        degrees_of_freedom,
        above,
        np.asarray(stdtrit(degrees_of_freedom, above), dtype=np.float64),
    )


# mutation: equivalent, from any start and after more rounds the search ends at the same root
def quantile_of_sum(
    variance: Array, scale: Array, degrees_of_freedom: float, above: float | Array, students: Array
) -> Array:
    """Return the place below which N(0, variance) + scale × Student-t lies with chance `above`, at least ½.

    `students` is the quantile of Student-t at that chance; both are one number or one a record.
    """
    # The sum lies between the two limits; both scales together give a start above the quantile.
    gaussian = normal_quantile(above)
    low = np.zeros_like(variance)
    high = students * np.sqrt(variance + scale**2) + gaussian * np.sqrt(variance)
    point: Array = np.maximum(students * scale, gaussian * np.sqrt(variance + scale**2))
    for _ in range(60):
        chance, density = sum_distribution(point, variance, scale, degrees_of_freedom)
        short = chance < above
        low, high = np.where(short, point, low), np.where(short, high, point)
        step = point - (chance - above) / np.maximum(density, 1e-300)
        renewed = np.where((step > low) & (step < high), step, (low + high) / 2)
        if np.max(np.abs(renewed - point), initial=0.0) < 1e-12:
            point = renewed
            break
        point = renewed
    return point


def sum_distribution(
    point: Array, variance: Array, scale: Array, degrees_of_freedom: float
) -> tuple[Array, Array]:
    """Return (distribution, density) at `point` of N(0, variance) + scale × Student-t.

    Student-t is a Gaussian over a chi-distributed root precision u, whose density is integrated by
    Gauss-Legendre.
    """
    precision, weights = root_precision(degrees_of_freedom)
    spread = np.sqrt(variance[:, None] + (scale[:, None] / precision) ** 2)
    standardised = point[:, None] / np.maximum(spread, 1e-300)
    density = np.exp(-(standardised**2) / 2) / np.sqrt(2 * np.pi) / np.maximum(spread, 1e-300)
    return normal_chance(standardised) @ weights, density @ weights


@cache
def root_precision(degrees_of_freedom: float) -> tuple[Array, Array]:
    """Return nodes and weights of the root precision u: u² times the degrees of freedom is chi-square with those."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    spread = 1 / np.sqrt(2 * degrees_of_freedom)
    low, high = max(0.0, 1 - 10 * spread), 1 + 10 * spread
    places = low + (high - low) * (nodes + 1) / 2
    logarithm = (degrees_of_freedom - 1) * np.log(places) - degrees_of_freedom * places**2 / 2
    mass = weights * np.exp(logarithm - logarithm.max())
    return places, mass / mass.sum()
