"""Difference in differences: what was treated against what was not, before against after.

Generic: it knows nothing of shoes. Two designs: single observations before and after, some of them
treated (Wooldridge, *Introductory Econometrics*, ch. 13), and changes of the same thing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import polars as pl
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
    r_squared: float
    rows: int
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


def difference_in_differences(
    frame: pl.DataFrame, *, outcome: str, after: str, treated: str, covariates: Sequence[str] = ()
) -> Contrast:
    """Return the effect of a treatment on single observations, some before and some after it.

    `after` and `treated` hold 0 or 1. The names are "constant", `after`, `treated`, "effect" (their product)
    and the covariates; errors are the usual ones. Without covariates the effect is (treated after −
    untreated after) − (treated before − untreated before), in means. Raises FitError where one of
    the four groups is empty, or the regressors do not tell the effects apart.
    """
    groups = frame.select(pl.col(after, treated).cast(pl.Float64)).unique().height
    if groups < 4:
        raise FitError(
            f"of the four groups ({after} and {treated}, each yes or no) {groups} have records",
            "a difference in differences needs all four.",
        )
    columns = frame.select(
        pl.lit(1.0).alias("constant"),
        pl.col(after, treated),
        (pl.col(after) * pl.col(treated)).alias("effect"),
        *covariates,
    )
    matrix = columns.cast(pl.Float64).to_numpy()
    names = ("constant", after, treated, "effect", *covariates)
    observed = frame[outcome].cast(pl.Float64).to_numpy()
    return _least_squares(matrix, names, observed, np.ones(len(observed)), known=False)


def effects_on_changes(
    changes: Array, treated: NDArray[np.bool_], names: Sequence[str], scales: Array, *, tails: float
) -> Contrast:
    """Return the effect of each treatment on the changes of things observed before and after.

    `changes` (rows,) is after minus before, `treated` (rows, treatments) what was done between. The names
    are DRIFT (the change of the untreated) and the treatments'. Each change weighs by the inverse
    square of its scale, and less where it is wild: errors are Student-t with `tails` degrees of freedom
    (infinite: Gaussian), fitted by re-weighting, with the covariance of the expected information (Lange,
    Little & Taylor 1989, JASA 84), not below what the changes scatter. Raises FitError where the
    treatments cannot be told apart.
    """
    matrix = np.column_stack([np.ones(len(changes)), treated.astype(np.float64)])
    labels = (DRIFT, *names)
    weights = 1 / scales**2
    contrast = _least_squares(matrix, labels, changes, weights, known=True)
    if np.isinf(tails):
        return contrast
    for _ in range(ROUNDS):
        squares = ((changes - matrix @ contrast.coefficients) / scales) ** 2
        renewed = _least_squares(
            matrix, labels, changes, weights * (tails + 1) / (tails + squares), known=True
        )
        moved = float(np.max(np.abs(renewed.coefficients - contrast.coefficients)))
        contrast = renewed
        if moved < SETTLED:
            break
    information = (matrix * weights[:, None]).T @ matrix * (tails + 1) / (tails + 3)
    spare = max(len(changes) - len(labels), 1)
    left = (changes - matrix @ contrast.coefficients) / scales
    wildness = float(np.sum(left**2 * (tails + 1) / (tails + left**2))) / spare
    covariance: Array = np.linalg.inv(information).astype(np.float64) * max(1.0, wildness)
    return Contrast(
        labels,
        contrast.coefficients,
        covariance,
        contrast.r_squared,
        contrast.rows,
        contrast.smoother,
    )


def _least_squares(
    matrix: Array, names: tuple[str, ...], observed: Array, weights: Array, *, known: bool
) -> Contrast:
    """Fit by weighted least squares; `known` weights are inverse variances, else they are relative."""
    rows, columns = matrix.shape
    if rows < columns or np.linalg.matrix_rank(matrix) < columns:
        raise FitError(
            f"{rows} records do not tell {columns} effects apart ({', '.join(names)})",
            "leave out those that always go together, or bring more records.",
        )
    if not known and rows == columns:
        raise FitError(f"{rows} records leave nothing to judge {columns} effects by", "bring more records.")
    scaled = np.linalg.norm(matrix, axis=0)
    weighted = matrix / scaled * weights[:, None]
    inverse = np.linalg.inv(weighted.T @ (matrix / scaled))
    smoother = inverse @ weighted.T / scaled[:, None]
    coefficients = smoother @ observed
    left = observed - matrix @ coefficients
    centre = float(np.average(observed, weights=weights))
    whole = float(np.sum(weights * (observed - centre) ** 2))
    squares = float(np.sum(weights * left**2))
    variance = 1.0 if known else squares / (rows - columns)
    covariance = variance * inverse / np.outer(scaled, scaled)
    r_squared = 1 - squares / whole if whole > 0 else 1.0
    return Contrast(names, coefficients, covariance, r_squared, rows, smoother)
