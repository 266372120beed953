"""Jackknife: what each record would have shown, had it been left out of the fit."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.calibration import Calibration
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.scores import scores_of

Array = NDArray[np.float64]

MOST_LEVERAGE = 1 - 1e-6


def jackknife_scores(fit: Fit, left: pl.DataFrame, scale: Array) -> Array:
    """Return the score of each record's error when it is left out, at the lambdas of the whole fit.

    `left` are the `residuals` of the fit's records, `scale` that of their errors. The error is e / (1 − h)
    and its estimate's variance sigma² h / (1 − h), h the leverage (Cook & Weisberg 1982); a robust fit
    enters with its pseudo-residuals.
    """
    leverage = np.clip(left["leverage"].to_numpy(), 0, MOST_LEVERAGE)
    residual = left["residual"].to_numpy()
    if fit.robust is not None:
        residual = residual * left["weight"].to_numpy() / fit.robust.kappa
    return scores_of(
        residual / (1 - leverage), fit.sigma2 * leverage / (1 - leverage), scale, fit.degrees_of_freedom
    )


def jackknife_calibration(scores: Array, degrees_of_freedom: float) -> Calibration:
    """Return a calibration on such scores: of sales that the fit has seen, in no order of time."""
    count = len(scores)
    return Calibration(
        scores,
        np.zeros(count, dtype=np.int64),
        np.full(count, -1, dtype=np.int64),
        (),
        degrees_of_freedom,
        step=0.0,
    )
