"""Robust re-weighting: so that a fake, a typing error or a charity sale does not set the price.

The fit is Fisher scoring for errors with heavy tails: each response is moved to its pseudo-value, the
fitted value plus (weight / kappa) times the residual, and the ordinary penalised fit is made on those.
X'X stays as it is, and the covariance is that of the expected information (Lange, Little & Taylor 1989,
JASA 84, for Student-t errors; Huber 1964 for clipped residuals), not that of weights taken as known.
"""

from dataclasses import dataclass
from math import erf, exp, pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Robust:
    """How residuals are weighed.

    `degrees_of_freedom` is the degrees of freedom of Student-t errors; `clip` the standardised residual beyond which
    Huber's weight falls. `rounds` bounds the re-weightings; `settled` is the change of any fitted log
    price at which they stop.
    """

    kind: Literal["student-t", "huber"] = "student-t"
    degrees_of_freedom: float = 5.0
    clip: float = 1.345
    rounds: int = 60
    settled: float = 1e-8

    def weights(self, standardised: Array) -> Array:
        """Return the weight of each standardised residual (1 + 1/tails at most for Student-t)."""
        if self.kind == "huber":
            size = np.maximum(np.abs(standardised), 1e-300)
            return np.minimum(1.0, self.clip / size)
        return (self.degrees_of_freedom + 1) / (self.degrees_of_freedom + standardised**2)

    @property
    def kappa(self) -> float:
        """Return the expected slope of the weighted residual: the information left at these degrees of freedom."""
        if self.kind == "huber":
            return 2 * _normal_below(self.clip) - 1
        return (self.degrees_of_freedom + 1) / (self.degrees_of_freedom + 3)

    @property
    def expected_square(self) -> float:
        """Return the expected square of a weighted standardised residual under Gaussian errors (Huber)."""
        inside = 2 * _normal_below(self.clip) - 1
        density = exp(-(self.clip**2) / 2) / sqrt(2 * pi)
        return inside - 2 * self.clip * density + 2 * self.clip**2 * (1 - _normal_below(self.clip))

    def scale(self, squares: float, spread: float, residual_df: float) -> float:
        """Return the next scale of the errors from sums over the records, and their degrees of freedom.

        `squares` is the sum of w·(weight·residual/κ)², `spread` that of w·weight·residual², the weights being those at
        the scale so far.
        """
        if self.kind == "huber":
            return sqrt(squares * self.kappa**2 / (self.expected_square * residual_df))
        return sqrt(spread / residual_df)


def scale_from_median(middle: float, root_mean_square: float, rows: int, residual_df: float) -> float:
    """Return the median |residual| over .6745, for the degrees of freedom spent; never quite zero."""
    return max(middle / 0.6744897501960817 * sqrt(rows / residual_df), 1e-6 * root_mean_square, 1e-12)


def _normal_below(value: float) -> float:
    return 0.5 * (1 + erf(value / sqrt(2)))
