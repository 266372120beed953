"""The fit against statsmodels 0.15: least squares on random designs, and a random intercept by REML."""

import numpy as np
import polars as pl
import pytest
import statsmodels.api as sm
from statsmodels.regression.mixed_linear_model import MixedLM

from pipeline.hedonic.covariance import clustered_covariance, robust_covariance
from pipeline.hedonic.fit import fit
from pipeline.hedonic.inference import coefficient_names, results
from pipeline.hedonic.predict import design_rows
from pipeline.hedonic.specification import Specification, Term

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
    known = sm.OLS(sales["log_price"].to_numpy(), design_rows(found, sales)).fit(cov_type="HC1")
    errors = np.sqrt(np.diag(robust_covariance(found, sales, "HC1")))
    assert found.coefficients == pytest.approx(known.params, rel=EXACT, abs=1e-10)
    assert errors == pytest.approx(known.bse, rel=EXACT)


@pytest.mark.parametrize("seed", range(3))
def test_weighted_least_squares_equals_statsmodels(seed: int) -> None:
    sales = random_sales(seed)
    found = fit(sales, all_levels("weight"))
    known = sm.WLS(sales["log_price"].to_numpy(), design_rows(found, sales), sales["weight"].to_numpy()).fit()
    assert found.coefficients == pytest.approx(known.params, rel=EXACT, abs=1e-10)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(known.bse, rel=EXACT)


@pytest.mark.parametrize("kind", ["HC0", "HC2", "HC3"])
def test_the_other_robust_errors_equal_statsmodels(kind: str) -> None:
    sales = random_sales(5)
    found = fit(sales, all_levels())
    known = sm.OLS(sales["log_price"].to_numpy(), design_rows(found, sales)).fit(cov_type=kind)
    errors = np.sqrt(np.diag(robust_covariance(found, sales, kind)))  # type: ignore[arg-type]
    assert errors == pytest.approx(known.bse, rel=EXACT)


def test_errors_clustered_by_pair_equal_statsmodels() -> None:
    sales = random_sales(6).with_row_index("row").with_columns((pl.col("row") % 37).alias("pair_key"))
    found = fit(sales, all_levels())
    clusters = {"groups": sales["pair_key"].to_numpy()}
    known = sm.OLS(sales["log_price"].to_numpy(), design_rows(found, sales)).fit(
        cov_type="cluster", cov_kwds=clusters
    )
    errors = np.sqrt(np.diag(clustered_covariance(found, sales, "pair_key")))
    assert errors == pytest.approx(known.bse, rel=EXACT)


def test_t_tests_intervals_and_wald_tests_equal_statsmodels() -> None:
    sales = random_sales(7)
    found = fit(sales, all_levels())
    known = sm.OLS(sales["log_price"].to_numpy(), design_rows(found, sales)).fit()
    stated = results(found)
    contrast = np.eye(len(found.coefficients))[1:4]
    assert stated.pvalues == pytest.approx(known.pvalues, rel=1e-7, abs=1e-12)
    assert stated.conf_int() == pytest.approx(known.conf_int(), rel=1e-7, abs=1e-9)
    ours, theirs = (one.wald_test(contrast, scalar=True, use_f=True) for one in (stated, known))
    assert float(ours.statistic) == pytest.approx(float(theirs.statistic), rel=1e-7)


def test_the_summary_names_every_coefficient() -> None:
    sales = random_sales(8)
    found = fit(sales, all_levels())
    text = str(results(found).summary())
    assert [name for name in coefficient_names(found) if name not in text] == []


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
