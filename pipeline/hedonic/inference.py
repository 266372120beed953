"""Inference: the estimates of a fit as statsmodels results, and tests of its errors.

statsmodels is imported here, not by `fit` or `predict`: a single appraisal does not wait for it.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray
from statsmodels.base.model import LikelihoodModelResults
from statsmodels.iolib.summary import Summary
from statsmodels.stats.diagnostic import het_breuschpagan

from pipeline.errors import FitError
from pipeline.hedonic.design import SLOPE
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import design_rows
from pipeline.hedonic.residuals import residuals

Array = NDArray[np.float64]


class _Described:
    """What statsmodels' results ask of their model: the names and the degrees of freedom."""

    def __init__(self, fit: Fit, names: list[str]) -> None:
        self.exog_names = names
        self.endog_names = fit.specification.response
        self.df_resid = fit.residual_df
        self.df_model = fit.edf - 1
        self.nobs = fit.rows
        self.data = _Names(names)


class _Names:
    def __init__(self, names: list[str]) -> None:
        self.xnames = names
        self.cov_names = names
        self.param_names = names


class FitResults(LikelihoodModelResults):  # type: ignore[misc]  # statsmodels is not typed
    """statsmodels results on the estimates of a fit: t_test, wald_test, conf_int, summary and the rest."""

    def __init__(self, fit: Fit, covariance: Array, covariance_name: str) -> None:
        names = coefficient_names(fit)
        super().__init__(
            _Described(fit, names), fit.coefficients, normalized_cov_params=covariance, scale=1.0
        )
        self.use_t = True
        self.df_resid = fit.residual_df
        self.df_resid_inference = fit.residual_df
        self.nobs = fit.rows
        self.cov_type = covariance_name
        self._fit = fit

    def summary(self, alpha: float = 0.05) -> Summary:
        """Return statsmodels' summary: the fit's figures, and one line a coefficient."""
        fit = self._fit
        left = [
            ("Response:", [fit.specification.response]),
            ("Method:", ["penalised, REML" if fit.lambdas else "least squares"]),
            ("No. records:", [f"{fit.rows}"]),
            ("Covariance:", [self.cov_type]),
        ]
        right = [
            ("Effective coefficients:", [f"{fit.edf:.2f}"]),
            ("Residual df:", [f"{fit.residual_df:.2f}"]),
            ("Residual scale:", [f"{fit.residual_scale:.5f}"]),
            ("Error tails (df):", ["Gaussian" if np.isinf(fit.tails) else f"{fit.tails:g}"]),
        ]
        summary = Summary()
        summary.add_table_2cols(self, title="Hedonic fit", gleft=left, gright=right)
        summary.add_table_params(self, xname=coefficient_names(fit), alpha=alpha, use_t=True)
        return summary


@dataclass(frozen=True)
class HeteroskedasticityTest:
    """A Lagrange-multiplier test that the error variance is constant: statistic, its df, p-value."""

    statistic: float
    df: int
    p_value: float


def coefficient_names(fit: Fit) -> list[str]:
    """Return a name a coefficient: term[level], or the term of a slope; the intercept first."""
    named = fit.labels.filter(pl.col("position").is_not_null())
    pairs = zip(named["term"].to_list(), named["level"].to_list(), strict=True)
    return [term if level in ("", SLOPE) else f"{term}[{level}]" for term, level in pairs]


def results(fit: Fit, covariance: Array | None = None, *, covariance_name: str = "") -> FitResults:
    """Return statsmodels results on the fit's estimates.

    `covariance` (p, p) replaces the Bayesian one, such as `robust_covariance` or
    `clustered_covariance`; `covariance_name` is how the summary calls it. Tests use Student's t with
    the residual degrees of freedom. Raises FitError for a covariance of the wrong shape.
    """
    if covariance is None:
        return FitResults(fit, fit.covariance, covariance_name or ("Bayesian" if fit.lambdas else "usual"))
    if covariance.shape != fit.covariance.shape:
        raise FitError(
            f"the covariance is {covariance.shape[0]} × {covariance.shape[-1]}, the fit has "
            f"{len(fit.coefficients)} coefficients",
            "make it from this fit.",
        )
    return FitResults(fit, covariance, covariance_name or "robust")


def breusch_pagan(fit: Fit, frame: pl.DataFrame) -> HeteroskedasticityTest:
    """Test whether the error variance moves with the unpenalised regressors (Koenker's form).

    The squared residuals are regressed on the intercept and all level, flag and linear effects.
    """
    penalised = np.zeros(len(fit.coefficients), dtype=bool)
    for penalty in fit.layout.penalties:
        penalised[penalty.span] = True
    return _tested(fit, frame, design_rows(fit, frame)[:, ~penalised])


def white_special(fit: Fit, frame: pl.DataFrame) -> HeteroskedasticityTest:
    """Test whether the error variance moves with the fitted value and its square (White's special form)."""
    fitted = residuals(fit, frame)["fitted"].to_numpy()
    return _tested(fit, frame, np.stack([np.ones(len(fitted)), fitted, fitted**2], axis=1))


def _tested(fit: Fit, frame: pl.DataFrame, regressors: Array) -> HeteroskedasticityTest:
    if regressors.shape[1] < 2:
        raise FitError(
            "the fit has no unpenalised effect with which the error variance could move",
            "use the White test instead.",
        )
    left: Any = residuals(fit, frame)["residual"].to_numpy()
    statistic, p_value, _, _ = het_breuschpagan(left, regressors)
    return HeteroskedasticityTest(float(statistic), regressors.shape[1] - 1, float(p_value))
