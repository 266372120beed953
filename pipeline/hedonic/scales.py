"""The scale of single errors, record by record, from the fit of their scatter."""

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

from pipeline.hedonic.distributions import normal_quantile
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import log_prices

Array = NDArray[np.float64]

FITTED = "fitted_log_price"
"""A column that terms of the scatter may read: the fitted log price, rounded to FITTED_STEP."""

FITTED_STEP = 0.2

LEAST_SCALE = 0.02
"""Single sales scatter by this much at least (log price), however well the records are explained.

Bids rise in steps, and asks are round: about 7 % of the price from one to the next. A price that is rounded to steps of
7 % scatters by 7 % / √12, a fiftieth.
"""


def scales(scatter: Fit, frame: pl.DataFrame, log_price: ArrayLike) -> Array:
    """Return the scale of the errors (log price) of each record, given its fitted log price; LEAST_SCALE at least."""
    log_scale = log_prices(scatter, with_fitted(frame, log_price))
    scale: Array = np.maximum(np.exp(log_scale), LEAST_SCALE)
    return scale


def least_error(level: float) -> float:
    """Return how far from its centre (log price) each end of a band at `level` lies at least.

    It is that of Gaussian errors of LEAST_SCALE: calibration on sales that the model explained without remainder cannot
    make a band narrower than prices are rounded.
    """
    return float(normal_quantile((1 + level) / 2)) * LEAST_SCALE


def with_fitted(frame: pl.DataFrame, log_price: ArrayLike) -> pl.DataFrame:
    """Return the frame with the column FITTED."""
    steps = np.round(np.asarray(log_price, dtype=np.float64) / FITTED_STEP)
    return frame.with_columns(fitted_levels(steps))


def fitted_levels(steps: ArrayLike) -> pl.Series:
    """Return the column FITTED from the number of each step."""
    return pl.Series(FITTED, np.asarray(steps, dtype=np.float64) * FITTED_STEP).round(6)
