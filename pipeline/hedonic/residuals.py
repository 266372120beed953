"""Residuals: what a fit leaves unexplained of the records it was made on."""

from dataclasses import replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.fit import response_of, weights_of
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import log_prices_of_rows
from pipeline.hedonic.rows import rows_by_term, stack

Array = NDArray[np.float64]


def residuals(fit: Fit, frame: pl.DataFrame) -> pl.DataFrame:
    """Return one row a record of the fit: fitted, residual (log price), leverage, weight.

    `leverage` is the record's share in its own fitted value; `weight` the robust one (1 for a fit that
    weighs all alike). `frame` holds records of the fit; raises FitError as `fit` does. They are of the regression: a
    trend, by which values in the last months differ from it, is left out.
    """
    response = response_of(frame, fit.specification)
    weights = weights_of(frame, fit.specification)
    by_term = rows_by_term(replace(fit, trend=None), frame)
    fitted = log_prices_of_rows(fit, by_term, frame.height)
    left = response - fitted
    leverage = fit.covariance.quadratic(*stack(by_term, frame.height)) / fit.sigma2
    return pl.DataFrame(
        {
            "fitted": fitted,
            "residual": left,
            "leverage": leverage * (1.0 if weights is None else weights),
            "weight": robust_weights(fit, left, weights),
        }
    )


def robust_weights(fit: Fit, left: Array, weights: Array | None) -> Array:
    """Return the robust weight of each residual, from the fit's own scale and degrees of freedom."""
    if fit.robust is None:
        return np.ones(len(left))
    root = 1.0 if weights is None else np.sqrt(weights)
    return fit.robust.weights(left * root / fit.residual_scale)
