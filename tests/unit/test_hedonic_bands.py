"""Bands: quantiles of estimation error and Student-t errors together (scipy and simulation as references)."""

from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from scipy import integrate, stats

from pipeline.errors import FitError
from pipeline.hedonic.bands import half_width, predictive_bands, quantile_of_sum, sum_distribution


@pytest.mark.parametrize("tails", [2.5, 4.0, 5.0, 30.0, 200.0])
@pytest.mark.parametrize("level", [0.5, 0.8, 0.95, 0.99])
def test_without_estimation_error_a_band_is_students(tails: float, level: float) -> None:
    found = half_width(np.zeros(1), np.array([0.3]), tails, level)[0]
    assert found == pytest.approx(0.3 * stats.t.ppf((1 + level) / 2, tails), rel=1e-6)


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


def test_a_band_has_one_row_a_record_and_level_about_its_median() -> None:
    found = predictive_bands([5.0, 6.0], [0.01, 0.02], [0.2, 0.3], 5.0, levels=(0.8, 0.5))
    assert found.select("row", "level").rows() == [(0, 0.5), (0, 0.8), (1, 0.5), (1, 0.8)]
    middle = (found["low"] + found["high"]) / 2
    assert middle.to_list() == pytest.approx([5, 5, 6, 6])


def test_a_level_of_eighty_is_refused() -> None:
    with pytest.raises(FitError, match="a band cannot have the level 80"):
        predictive_bands([5.0], [0.01], 0.2, 5.0, levels=(80,))


def test_no_records_have_no_bands() -> None:
    assert predictive_bands([], [], [], 5.0).height == 0


def test_a_band_lies_as_far_below_its_median_as_above() -> None:
    """Gaussian, .09 + .4² = .5²: half the sales lie within .674490 deviations, 95 % within 1.959964."""
    found = predictive_bands([5.0], [0.09], 0.4, np.inf)
    assert found.schema == {"row": pl.Int64, "level": pl.Float64, "low": pl.Float64, "high": pl.Float64}
    assert found["level"].to_list() == [0.5, 0.8, 0.95]
    assert found.row(0) == (0, 0.5, pytest.approx(4.662755), pytest.approx(5.337245))
    assert found.row(2) == (0, 0.95, pytest.approx(4.020018), pytest.approx(5.979982))


@pytest.mark.parametrize("level", [0.0, 1.0, -0.1])
def test_a_level_that_is_no_share_says_what_is(level: float) -> None:
    with pytest.raises(FitError) as refused:
        predictive_bands([5.0], [0.01], 0.2, 5.0, levels=(0.8, level))
    assert str(refused.value) == f"a band cannot have the level {level}\ngive a share between 0 and 1."


@pytest.mark.parametrize("tails", [3.0, 5.0, 40.0])
def test_the_chance_of_a_sum_is_that_of_scipys_parts_integrated(tails: float) -> None:
    """P(N + s T < x) = ∫ Φ((x − s t) / d) f(t) dt, by scipy's adaptive quadrature."""
    point, deviation, scale = 0.4, 0.3, 0.2

    def below(t: float) -> float:
        return float(stats.norm.cdf((point - scale * t) / deviation) * stats.t.pdf(t, tails))

    def near(t: float) -> float:
        return float(stats.norm.pdf((point - scale * t) / deviation) / deviation * stats.t.pdf(t, tails))

    chance, density = sum_distribution(np.array([point]), np.array([deviation**2]), np.array([scale]), tails)

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
    ("prices", "variances", "scales"),
    [
        ([5.0, None], [0.01, 0.01], [0.2, 0.2]),
        ([5.0, 5.0], [0.01, None], [0.2, 0.2]),
        ([5.0, 5.0], [0.01, 0.01], [0.2, None]),
    ],
)
def test_what_is_not_known_of_a_record_leaves_it_without_a_band(
    prices: list[float | None], variances: list[float | None], scales: list[float | None]
) -> None:
    found = predictive_bands(prices, variances, scales, np.inf, levels=(0.8,))
    assert found["low"].is_nan().to_list() == [False, True]
    assert found["high"].is_nan().to_list() == [False, True]
