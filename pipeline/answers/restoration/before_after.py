"""Difference in differences: treated against untreated, before against after.

Generic: it knows nothing of shoes. It compares changes of the same thing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import FitError

Array = NDArray[np.float64]

ROUNDS = 100
SETTLED = 1e-10
DRIFT = "drift"
"""The name of the change that the untreated show."""


@dataclass(frozen=True)
class Contrast:
    """A least-squares fit from which treatment effects are read.

    `names` heads `coefficients` (k,) and `covariance` (k, k). `smoother` (k, rows) gives the coefficients
    as weighted sums of the outcome, so that the same contrast can be taken of anything else.
    """

    names: tuple[str, ...]
    coefficients: Array
    covariance: Array
    smoother: Array

    def effect(self, name: str) -> float:
        """Return the coefficient of that name; raises KeyError."""
        return float(self.coefficients[self._place(name)])

    def error(self, name: str) -> float:
        """Return its standard error; raises KeyError."""
        place = self._place(name)
        return sqrt(float(self.covariance[place, place]))

    def _place(self, name: str) -> int:
        if name not in self.names:
            raise KeyError(name)
        return self.names.index(name)


def effects_on_changes(
    changes: Array,
    treated: NDArray[np.bool_],
    names: Sequence[str],
    scales: Array,
    *,
    degrees_of_freedom: float,
) -> Contrast:
    """Return the effect of each treatment on the changes of things observed before and after.

    `changes` (rows,) is after minus before, `treated` (rows, treatments) what was done between. The names
    are DRIFT (the change of the untreated) and the treatments'. Each change weighs by the inverse
    square of its scale, and less where it is an outlier: errors are Student-t with `degrees_of_freedom`
    (infinite: Gaussian), fitted by re-weighting, with the covariance of the expected information (Lange,
    Little & Taylor 1989, JASA 84), not below what the scatter of the changes implies. Raises FitError where the
    treatments cannot be separated.
    """
    matrix = np.column_stack([np.ones(len(changes)), treated.astype(np.float64)])
    labels = (DRIFT, *names)
    weights = 1 / scales**2
    contrast = _least_squares(matrix, labels, changes, weights)
    if np.isinf(degrees_of_freedom):
        return contrast
    freedom = degrees_of_freedom
    for _ in range(ROUNDS):
        squares = ((changes - matrix @ contrast.coefficients) / scales) ** 2
        renewed = _least_squares(matrix, labels, changes, weights * (freedom + 1) / (freedom + squares))
        moved = float(np.max(np.abs(renewed.coefficients - contrast.coefficients)))
        contrast = renewed
        if moved < SETTLED:
            break
    information = (matrix * weights[:, None]).T @ matrix * (freedom + 1) / (freedom + 3)
    residual_freedom = max(len(changes) - len(labels), 1)
    left = (changes - matrix @ contrast.coefficients) / scales
    dispersion = float(np.sum(left**2 * (freedom + 1) / (freedom + left**2))) / residual_freedom
    covariance: Array = np.linalg.inv(information).astype(np.float64) * max(1.0, dispersion)
    return Contrast(labels, contrast.coefficients, covariance, contrast.smoother)


def _least_squares(matrix: Array, names: tuple[str, ...], observed: Array, weights: Array) -> Contrast:
    """Fit by weighted least squares; the weights are inverse variances."""
    rows, columns = matrix.shape
    if rows < columns or np.linalg.matrix_rank(matrix) < columns:
        raise FitError(
            f"{rows} records cannot separate {columns} effects ({', '.join(names)})",
            "leave out those that always occur together, or add more records.",
        )
    scaled = np.linalg.norm(matrix, axis=0)
    weighted = matrix / scaled * weights[:, None]
    inverse = np.linalg.inv(weighted.T @ (matrix / scaled))
    smoother = inverse @ weighted.T / scaled[:, None]
    coefficients = smoother @ observed
    covariance = inverse / np.outer(scaled, scaled)
    return Contrast(names, coefficients, covariance, smoother)
