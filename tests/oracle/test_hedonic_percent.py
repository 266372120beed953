"""Percentage effects: formulas from memory, digits recomputed by hand.

Halvorsen & Palmquist (1980, AER 70), which is Kennedy (1981, AER 71) without variance, van Garderen & Shah (2002).
Tolerance: relative 1e-9, the digits given.
"""

import numpy as np
import pytest

from pipeline.hedonic.percent import kennedy, kennedy_error

RELATIVE = 1e-9

CASES = [
    (0.30, 0.01, 34.9858807576, 34.3126358687, 13.3977552776),
    (-0.14, 0.0025, -13.0641764601, -13.1727783492, 4.3386491445),
]


@pytest.mark.parametrize(("effect", "variance", "plain", "corrected", "error"), CASES)
def test_a_dummy_moves_the_price_by_the_published_per_cent(
    effect: float, variance: float, plain: float, corrected: float, error: float
) -> None:
    assert 100 * kennedy(effect, 0.0) == pytest.approx(plain, rel=RELATIVE)
    assert 100 * kennedy(effect, variance) == pytest.approx(corrected, rel=RELATIVE)
    assert 100 * kennedy_error(effect, variance) == pytest.approx(error, rel=RELATIVE)


@pytest.mark.parametrize(
    ("effects", "variances"), [([0.30, None], [0.01, 0.01]), ([0.30, 0.30], [0.01, None])]
)
def test_without_effect_or_variance_there_is_no_corrected_per_cent(
    effects: list[float | None], variances: list[float | None]
) -> None:
    assert np.isnan(kennedy(effects, variances)).tolist() == [False, True]
    assert np.isnan(kennedy_error(effects, variances)).tolist() == [False, True]
