"""Percentage effects and retransformation: formulas from memory, digits recomputed by hand.

Halvorsen & Palmquist (1980, AER 70), Kennedy (1981, AER 71), van Garderen & Shah (2002), Duan (1983, JASA 78).
Tolerance: relative 1e-9, the digits given.
"""

import numpy as np
import pytest

from pipeline.hedonic.percent import duan_smearing, halvorsen_palmquist, kennedy, kennedy_error

RELATIVE = 1e-9

CASES = [
    (0.30, 0.01, 34.9858807576, 34.3126358687, 13.3977552776),
    (-0.14, 0.0025, -13.0641764601, -13.1727783492, 4.3386491445),
]


@pytest.mark.parametrize(("effect", "variance", "plain", "corrected", "error"), CASES)
def test_a_dummy_moves_the_price_by_the_published_per_cent(
    effect: float, variance: float, plain: float, corrected: float, error: float
) -> None:
    assert 100 * halvorsen_palmquist(effect) == pytest.approx(plain, rel=RELATIVE)
    assert 100 * kennedy(effect, variance) == pytest.approx(corrected, rel=RELATIVE)
    assert 100 * kennedy_error(effect, variance) == pytest.approx(error, rel=RELATIVE)


def test_smearing_turns_a_median_into_the_mean() -> None:
    factor = duan_smearing([-0.2, -0.1, 0, 0.1, 0.2])
    assert factor == pytest.approx(1.0100283695, rel=RELATIVE)
    assert factor * np.exp(5) == pytest.approx(149.9015010963, rel=RELATIVE)


def test_an_effect_that_is_not_known_moves_the_price_by_no_known_per_cent() -> None:
    known, unknown = halvorsen_palmquist([0.30, None])
    assert (100 * known, np.isnan(unknown)) == (pytest.approx(34.9858807576, rel=RELATIVE), True)


@pytest.mark.parametrize(
    ("effects", "variances"), [([0.30, None], [0.01, 0.01]), ([0.30, 0.30], [0.01, None])]
)
def test_without_effect_or_variance_there_is_no_corrected_per_cent(
    effects: list[float | None], variances: list[float | None]
) -> None:
    assert np.isnan(kennedy(effects, variances)).tolist() == [False, True]
    assert np.isnan(kennedy_error(effects, variances)).tolist() == [False, True]


def test_a_residual_that_is_not_known_leaves_no_mean() -> None:
    assert np.isnan(duan_smearing([0.1, None]))
