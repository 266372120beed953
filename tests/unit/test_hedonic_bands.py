"""Bands: quantiles of estimation error and Student-t errors together (scipy and simulation as references)."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats

from pipeline.hedonic.bands import half_width, quantile_of_sum, sum_distribution


@pytest.mark.parametrize("degrees_of_freedom", [2.5, 4.0, 5.0, 30.0, 200.0])
@pytest.mark.parametrize("level", [0.5, 0.8, 0.95, 0.99])
def test_without_estimation_error_a_band_is_students(degrees_of_freedom: float, level: float) -> None:
    found = half_width(np.zeros(1), np.array([0.3]), degrees_of_freedom, level)[0]
    assert found == pytest.approx(0.3 * stats.t.ppf((1 + level) / 2, degrees_of_freedom), rel=1e-6)


@pytest.mark.parametrize("level", [0.5, 0.8, 0.95])
def test_without_errors_of_the_sale_a_band_is_gaussian(level: float) -> None:
    found = half_width(np.array([0.04]), np.zeros(1), 5.0, level)[0]
    assert found == pytest.approx(0.2 * stats.norm.ppf((1 + level) / 2), rel=1e-6)


def test_gaussian_errors_add_their_variances() -> None:
    found = half_width(np.array([0.09]), np.array([0.4]), np.inf, 0.95)[0]
    assert found == pytest.approx(0.5 * stats.norm.ppf(0.975), rel=1e-12)


def test_a_band_of_both_holds_its_share_of_simulated_sales() -> None:
    random = np.random.default_rng(1)
    draws = random.normal(0, 0.5, 400_000) + 0.3 * random.standard_t(4, 400_000)
    for level in (0.5, 0.8, 0.95):
        half = half_width(np.array([0.25]), np.array([0.3]), 4.0, level)[0]
        assert np.mean(np.abs(draws) <= half) == pytest.approx(level, abs=0.003)


def test_no_records_have_no_bands() -> None:
    assert half_width(np.zeros(0), np.zeros(0), 5.0, 0.8).tolist() == []


@pytest.mark.parametrize(("level", "half"), [(0.5, 0.337245), (0.95, 0.979982)])
def test_half_the_sales_and_nineteen_of_twenty_lie_within_gaussian_bands(level: float, half: float) -> None:
    """.09 + .4² = .5²: half the sales lie within .674490 deviations, 95 % within 1.959964."""
    assert half_width(np.array([0.09]), np.array([0.4]), np.inf, level) == pytest.approx(half, abs=1e-6)


@pytest.mark.parametrize("degrees_of_freedom", [3.0, 5.0, 40.0])
def test_the_chance_of_a_sum_is_that_of_scipys_parts_integrated(degrees_of_freedom: float) -> None:
    """P(N + s T < x) = ∫ Φ((x − s t) / d) f(t) dt, by scipy's adaptive quadrature."""
    point, deviation, scale = 0.4, 0.3, 0.2

    def below(t: float) -> float:
        return float(stats.norm.cdf((point - scale * t) / deviation) * stats.t.pdf(t, degrees_of_freedom))

    def near(t: float) -> float:
        return float(
            stats.norm.pdf((point - scale * t) / deviation) / deviation * stats.t.pdf(t, degrees_of_freedom)
        )

    chance, density = sum_distribution(
        np.array([point]), np.array([deviation**2]), np.array([scale]), degrees_of_freedom
    )

    ends = (-np.inf, -5, 0, 5, np.inf)
    for found, over in ((chance, below), (density, near)):
        whole = sum(integrate.quad(over, low, high)[0] for low, high in pairwise(ends))
        assert found[0] == pytest.approx(whole, abs=1e-7)


def test_the_quantile_of_a_sum_is_where_its_chance_is_met_record_by_record() -> None:
    variance, scale = np.array([0.01, 0.25, 1.0, 0.0, 0.01]), np.array([0.5, 0.5, 0.01, 0.2, 4.0])
    above = np.array([0.6, 0.9, 0.975, 0.995, 0.975])
    found = quantile_of_sum(variance, scale, 4.0, above, stats.t.ppf(above, 4))
    assert sum_distribution(found, variance, scale, 4.0)[0] == pytest.approx(above, abs=1e-9)
    assert found[3] == pytest.approx(0.2 * stats.t.ppf(0.995, 4), rel=1e-6)


def test_a_band_of_one_level_a_record_is_that_of_each_level_alone() -> None:
    variance, scale = np.array([0.04, 0.04]), np.array([0.3, 0.3])
    together = half_width(variance, scale, 5.0, np.array([0.5, 0.9]))
    alone = [half_width(variance[:1], scale[:1], 5.0, level)[0] for level in (0.5, 0.9)]
    assert together == pytest.approx(alone, rel=1e-9)


@pytest.mark.parametrize(
    ("variances", "scales"), [([0.01, np.nan], [0.2, 0.2]), ([0.01, 0.01], [0.2, np.nan])]
)
def test_what_is_not_known_of_a_record_leaves_it_without_a_band(
    variances: list[float], scales: list[float]
) -> None:
    found = half_width(np.array(variances), np.array(scales), np.inf, 0.8)
    assert np.isnan(found).tolist() == [False, True]
