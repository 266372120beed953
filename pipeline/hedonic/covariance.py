"""Robust covariance of the coefficients: heteroskedasticity and clusters.

The bread is (X'WX + S)^-1, so that for penalised effects it is the variance of the estimator about its
own expectation (a frequentist one, without the prior's share).
"""

from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.crossproducts import count
from pipeline.hedonic.design import place
from pipeline.hedonic.fit import response_of, weights_of
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.levels import require_columns
from pipeline.hedonic.residuals import leverages, pseudo_residuals
from pipeline.hedonic.reweigh import fitted_values

Array = NDArray[np.float64]
Kind = Literal["HC0", "HC1", "HC2", "HC3"]


def robust_covariance(fit: Fit, frame: pl.DataFrame, kind: Kind = "HC1") -> Array:
    """Return the heteroskedasticity-robust covariance (p, p) on the records of the fit.

    HC1 scales by n / (n - edf); HC2 and HC3 divide each squared residual by (1 - leverage) once or
    twice (MacKinnon & White 1985). A robust fit enters with its pseudo-residuals.
    """
    cells = place(frame, fit.design)
    weights = weights_of(frame, fit.specification)
    left = response_of(frame, fit.specification) - fitted_values(cells, fit.layout, fit.coefficients)
    left = pseudo_residuals(fit, left, weights)
    squares = left**2 if weights is None else (weights * left) ** 2
    if kind in ("HC2", "HC3"):
        own = leverages(fit, cells) * (1.0 if weights is None else weights)
        squares = squares / (1 - own) ** (1 if kind == "HC2" else 2)
    kept = np.ix_(fit.layout.cells, fit.layout.cells)
    meat = count(cells, fit.design, squares)[kept]
    covariance = sandwich(fit, meat)
    return covariance * fit.rows / fit.residual_df if kind == "HC1" else covariance


def sandwich(fit: Fit, meat: Array) -> Array:
    """Return bread · meat · bread (p, p)."""
    bread = fit.covariance / fit.sigma2
    covered: Array = bread @ meat @ bread
    return (covered + covered.T) / 2


def clustered_covariance(fit: Fit, frame: pl.DataFrame, cluster: str) -> Array:
    """Return the covariance (p, p) robust to dependence within the values of the column `cluster`.

    Scaled by G / (G - 1) · (n - 1) / (n - edf) (Liang & Zeger 1986, with the usual correction). Raises
    FitError with fewer than two clusters.
    """
    require_columns(frame, (cluster,), "the clustered covariance")
    groups = frame.get_column(cluster).rank("dense").fill_null(0).to_numpy().astype(np.int64)
    _, groups = np.unique(groups, return_inverse=True)
    number = int(groups.max()) + 1
    if number < 2:
        raise FitError(
            f"the column {cluster!r} has one value, so records cannot be clustered by it",
            "choose another column.",
        )
    cells = place(frame, fit.design)
    weights = weights_of(frame, fit.specification)
    left = response_of(frame, fit.specification) - fitted_values(cells, fit.layout, fit.coefficients)
    left = pseudo_residuals(fit, left, weights)
    scores = left if weights is None else weights * left
    meat = _cluster_meat(fit, cells.numbers, cells.values, scores, groups, number)
    correction = number / (number - 1) * (fit.rows - 1) / fit.residual_df
    return sandwich(fit, meat) * correction


def _cluster_meat(
    fit: Fit,
    numbers: NDArray[np.int32],
    values: tuple[Array | None, ...],
    scores: Array,
    groups: NDArray[np.int64],
    number: int,
) -> Array:
    """Return the sum over clusters of (sum of x e)(sum of x e)' (p, p)."""
    from scipy.sparse import coo_array

    size = fit.layout.size
    places = fit.layout.positions[numbers]
    entries = np.stack([scores if value is None else scores * value for value in values], axis=1)
    kept = places < size
    rows = np.broadcast_to(groups[:, None], places.shape)
    summed = coo_array((entries[kept], (rows[kept], places[kept])), shape=(number, size)).tocsr()
    meat: Array = (summed.T @ summed).toarray()
    return meat
