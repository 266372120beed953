"""The fit against statsmodels 0.15: least squares on random designs, and a random intercept by REML."""

import numpy as np
import polars as pl
import pytest
import statsmodels.api as sm
from statsmodels.regression.mixed_linear_model import MixedLM

from pipeline.hedonic.fit import fit
from pipeline.hedonic.predict import design_rows
from pipeline.hedonic.specification import Specification, Term
from tests.oracle.robust_errors import robust_covariance

EXACT = 1e-8
"""Relative tolerance of least squares: both solve the same equations in double precision."""


def random_sales(seed: int) -> pl.DataFrame:
    """Return 80 to 400 sales over up to four fixed factors and a slope, with uneven errors and weights."""
    random = np.random.default_rng(seed)
    sales = int(random.integers(80, 400))
    columns = {f"factor{number}": random.integers(0, random.integers(2, 7), sales) for number in range(4)}
    slope = random.normal(2, 1, sales)
    errors = random.normal(0, 0.1 + 0.2 * (columns["factor0"] > 0))
    log_price = 5 + 0.3 * slope + sum(0.1 * values for values in columns.values()) + errors
    return pl.DataFrame(
        {**columns, "slope": slope, "log_price": log_price, "weight": random.uniform(0.5, 2, sales)}
    )


def all_levels(weights: str | None = None) -> Specification:
    levels = tuple(Term(f"factor{number}", "level", (f"factor{number}",)) for number in range(4))
    return Specification("log_price", (*levels, Term("slope", "linear", ("slope",))), weights)


@pytest.mark.parametrize("seed", range(20))
def test_least_squares_equals_statsmodels_in_coefficients_and_hc1_errors(seed: int) -> None:
    sales = random_sales(seed)
    found = fit(sales, all_levels())
    known = sm.OLS(sales["log_price"].to_numpy(), design_rows(found, sales).toarray()).fit(cov_type="HC1")
    errors = np.sqrt(np.diag(robust_covariance(found, sales, "HC1")))
    assert found.coefficients == pytest.approx(known.params, rel=EXACT, abs=1e-10)
    assert errors == pytest.approx(known.bse, rel=EXACT)


@pytest.mark.parametrize("seed", range(3))
def test_weighted_least_squares_equals_statsmodels(seed: int) -> None:
    sales = random_sales(seed)
    found = fit(sales, all_levels("weight"))
    known = sm.WLS(
        sales["log_price"].to_numpy(), design_rows(found, sales).toarray(), sales["weight"].to_numpy()
    ).fit()
    assert found.coefficients == pytest.approx(known.params, rel=EXACT, abs=1e-10)
    assert np.sqrt(found.covariance.diagonal()) == pytest.approx(known.bse, rel=EXACT)


def test_the_errors_that_leverage_corrects_equal_statsmodels() -> None:
    sales = random_sales(5)
    found = fit(sales, all_levels())
    known = sm.OLS(sales["log_price"].to_numpy(), design_rows(found, sales).toarray()).fit(cov_type="HC3")
    errors = np.sqrt(np.diag(robust_covariance(found, sales, "HC3")))
    assert errors == pytest.approx(known.bse, rel=EXACT)


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_a_random_intercept_has_the_variance_components_of_the_mixed_model(seed: int) -> None:
    random = np.random.default_rng(seed)
    group = np.repeat(np.arange(25), 12)
    slope = random.normal(size=300)
    log_price = 5 + 0.4 * slope + random.normal(0, 0.5, 25)[group] + random.normal(0, 0.3, 300)
    sales = pl.DataFrame({"group": group, "slope": slope, "log_price": log_price})
    terms = (Term("slope", "linear", ("slope",)), Term("group", "pooled", ("group",)))
    found = fit(sales, Specification("log_price", terms))
    known = MixedLM(log_price, np.stack([np.ones(300), slope], axis=1), group).fit(reml=True)
    assert found.sigma2 == pytest.approx(known.scale, rel=1e-3)
    assert found.sigma2 / found.lambdas["group"] == pytest.approx(float(known.cov_re[0, 0]), rel=1e-3)
