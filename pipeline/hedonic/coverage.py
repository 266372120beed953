"""Coverage: what share of later sales the bands held, with the sampling error of that share."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Coverage:
    """Of `sales`, the share `covered` by the bands of a `level`, its standard `error`, and their mean `width`.

    `width` is the band's upper end less its lower, as a share of the value.
    """

    level: float
    sales: int
    covered: float
    error: float
    width: float

    @property
    def surprise(self) -> float:
        """Return how many standard errors the share lies above its level (zero without sales)."""
        return (self.covered - self.level) / self.error if self.sales else 0.0


def coverage(level: float, inside: NDArray[np.bool_], widths: Array, periods: NDArray[np.int64]) -> Coverage:
    """Return the coverage of bands of a level: whether each sale lay inside, and each band's width.

    The error is the larger of the binomial one and that over periods, since the sales of one share the
    market's surprises.
    """
    count = len(inside)
    if not count:
        return Coverage(level, 0, float("nan"), float("nan"), float("nan"))
    excess = inside.astype(np.float64) - level
    _, numbers = np.unique(periods, return_inverse=True)
    sums = np.bincount(numbers, excess - excess.mean())
    correction = len(sums) / max(len(sums) - 1, 1)
    over_periods = sqrt(correction * float(sums @ sums)) / count
    binomial = sqrt(level * (1 - level) / count)
    return Coverage(level, count, float(inside.mean()), max(binomial, over_periods), float(widths.mean()))
