"""Influence: how far a prediction would move if one record of the fit were left out."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.jackknife import MOST_LEVERAGE
from pipeline.hedonic.predict import design_rows
from pipeline.hedonic.residuals import residuals

Array = NDArray[np.float64]


def influences(fit: Fit, records: pl.DataFrame, frame: pl.DataFrame) -> Array:
    """Return (rows of frame, records): how far each record moves each prediction, in log price.

    It is the prediction less that without the record, at the lambdas and the scale of the whole fit: x'V z e / (1 − h)
    over sigma², z the record's design row, e its pseudo-residual and h its leverage (Cook & Weisberg 1982). `records`
    are some of those that the fit was made of.
    """
    left = residuals(fit, records)
    leverage = np.clip(left["leverage"].to_numpy(), 0, MOST_LEVERAGE)
    pull = left["residual"].to_numpy() / (1 - leverage)
    if fit.robust is not None:
        pull = pull * left["weight"].to_numpy() / fit.robust.kappa
    shared = fit.covariance.between(design_rows(fit, frame), design_rows(fit, records)) / fit.sigma2
    moved: Array = shared * pull
    return moved
