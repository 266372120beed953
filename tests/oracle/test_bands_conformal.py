"""Conformal quantiles against crepes 0.9.1, the reference library for them.

Tolerance 1e-8: both pick an order statistic of the same residuals, so only its last digits can differ.
(Where (n + 1) · level is whole, the reference's own rounding takes the next residual.)
Coverage bounds: Lei et al. 2018 (JASA 113), from memory.
"""

import numpy as np
import pytest
from crepes import ConformalRegressor

from pipeline.hedonic.conformal import conformal_quantile


@pytest.mark.parametrize("level", [0.5, 0.8, 0.9, 0.95])
@pytest.mark.parametrize("count", [40, 100, 250])
def test_a_plain_split_band_is_as_wide_as_the_reference_makes_it(count: int, level: float) -> None:
    residuals = np.random.default_rng(count).standard_t(5, count)
    reference = ConformalRegressor().fit(residuals)

    low, high = reference.predict_int(np.zeros(1), confidence=level)[0]

    assert conformal_quantile(np.abs(residuals), level) == pytest.approx(high, abs=1e-8)
    assert -conformal_quantile(np.abs(residuals), level) == pytest.approx(low, abs=1e-8)


def test_exchangeable_errors_are_held_as_often_as_claimed_and_hardly_more() -> None:
    draws = np.random.default_rng(7)
    count, level, tried = 49, 0.8, 4000
    errors = np.abs(draws.standard_t(5, (tried, count + 1)))

    held = np.mean([row[-1] <= conformal_quantile(row[:-1], level) for row in errors])

    noise = 3 * np.sqrt(level * (1 - level) / tried)
    assert level - noise <= held <= level + 1 / (count + 1) + noise


def test_too_few_residuals_carry_no_finite_band() -> None:
    assert conformal_quantile(np.arange(18.0), 0.95) == np.inf
    assert conformal_quantile(np.arange(19.0), 0.95) == 18.0
