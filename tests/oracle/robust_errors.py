"""Covariance robust to uneven errors (HC1, HC3), from what a fit says of its records: for checks only."""

from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import design_rows
from pipeline.hedonic.residuals import residuals


def robust_covariance(fit: Fit, frame: pl.DataFrame, kind: Literal["HC1", "HC3"]) -> NDArray[np.float64]:
    """Return bread · X' diag(e²) X · bread (p, p), the bread being (X'WX + S)^-1.

    HC1 scales by n / (n - edf), HC3 divides each residual by (1 - leverage) (MacKinnon & White 1985). A robust
    fit enters with its pseudo-residuals. `frame` holds the records of the fit.
    """
    told = residuals(fit, frame)
    errors = told["residual"].to_numpy()
    if fit.robust is not None:
        errors = told["weight"].to_numpy() * errors / fit.robust.kappa
    if fit.specification.weights is not None:
        errors = errors * frame[fit.specification.weights].to_numpy()
    if kind == "HC3":
        errors = errors / (1 - told["leverage"].to_numpy())
    scores = design_rows(fit, frame).toarray() * errors[:, None]
    bread = fit.covariance.dense() / fit.sigma2
    covariance: NDArray[np.float64] = bread @ (scores.T @ scores) @ bread
    return covariance * fit.rows / (fit.rows - fit.edf) if kind == "HC1" else covariance
