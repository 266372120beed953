"""The scale of single errors, record by record, from the fit of their scatter."""

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import log_prices

Array = NDArray[np.float64]

FITTED = "fitted_log_price"
"""A column that terms of the scatter may read: the fitted log price, rounded to FITTED_STEP."""

FITTED_STEP = 0.2


def scales(scatter: Fit, frame: pl.DataFrame, log_price: ArrayLike) -> Array:
    """Return the scale of the errors (log price) of each record, given its fitted log price."""
    log_scale = log_prices(scatter, with_fitted(frame, log_price))
    scale: Array = np.exp(log_scale)
    return scale


def with_fitted(frame: pl.DataFrame, log_price: ArrayLike) -> pl.DataFrame:
    """Return the frame with the column FITTED."""
    steps = np.round(np.asarray(log_price, dtype=np.float64) / FITTED_STEP)
    return frame.with_columns(pl.Series(FITTED, steps * FITTED_STEP).round(6))
