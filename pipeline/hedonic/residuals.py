"""Residuals: what a fit leaves unexplained of the records it was made on."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.design import Cells, find_cells
from pipeline.hedonic.fit import response_of, weights_of
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.reweigh import fitted_values
from pipeline.hedonic.rows import quadratic

Array = NDArray[np.float64]


def residuals(fit: Fit, frame: pl.DataFrame) -> pl.DataFrame:
    """Return one row a record of the fit: fitted, residual (log price), leverage, weight.

    `leverage` is the record's share in its own fitted value; `weight` the robust one (1 for a fit that
    weighs all alike). `frame` holds the records of the fit; raises FitError as `fit` does.
    """
    cells = find_cells(frame, fit.design)
    response = response_of(frame, fit.specification)
    weights = weights_of(frame, fit.specification)
    fitted = fitted_values(cells, fit.layout, fit.coefficients)
    left = response - fitted
    return pl.DataFrame(
        {
            "fitted": fitted,
            "residual": left,
            "leverage": leverages(fit, cells) * (1.0 if weights is None else weights),
            "weight": robust_weights(fit, left, weights),
        }
    )


def leverages(fit: Fit, cells: Cells) -> Array:
    """Return x'(X'WX + S)^-1 x (records,)."""
    places = fit.layout.positions[cells.numbers]
    times = [np.ones(len(places)) if value is None else value for value in cells.values]
    return quadratic(places, np.stack(times, axis=1), fit.covariance / fit.sigma2)


def robust_weights(fit: Fit, left: Array, weights: Array | None) -> Array:
    """Return the robust weight of each residual, from the fit's own scale and degrees of freedom."""
    if fit.robust is None:
        return np.ones(len(left))
    root = 1.0 if weights is None else np.sqrt(weights)
    return fit.robust.weights(left * root / fit.residual_scale)
