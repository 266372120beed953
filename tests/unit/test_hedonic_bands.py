"""Bands: quantiles of estimation error and Student-t errors together (scipy and simulation as references)."""

import numpy as np
import pytest
from scipy import stats

from pipeline.errors import FitError
from pipeline.hedonic.bands import half_width, predictive_bands


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
