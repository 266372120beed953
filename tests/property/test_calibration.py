"""Calibrated bands: what must hold for any scores."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.hedonic.calibration import Calibration, calibrate
from pipeline.hedonic.conformal import carried_quantile, conformal_quantile

SEEDS = st.integers(0, 10_000)
LEVELS = st.floats(0.1, 0.97)


def drawn(seed: int, count: int = 200, groups: int = 3) -> Calibration:
    draws = np.random.default_rng(seed)
    made = calibrate(
        draws.standard_t(5, count),
        np.sort(draws.integers(0, 24, count)),
        [f"g{number}" for number in draws.integers(0, groups, count)],
        5.0,
    )
    assert made is not None
    return made


@given(SEEDS)
@settings(deadline=None, max_examples=25)
def test_the_order_of_sales_within_a_month_changes_no_band(seed: int) -> None:
    whole = drawn(seed)
    order = np.lexsort((np.random.default_rng(seed + 1).random(len(whole.scores)), whole.periods))
    groups = [whole.names[number] for number in whole.groups[order]]
    shuffled = calibrate(whole.scores[order], whole.periods[order], groups, 5.0)

    assert shuffled is not None
    np.testing.assert_allclose(shuffled.band(0.8, ["g0", "g1"]), whole.band(0.8, ["g0", "g1"]), rtol=1e-9)


@given(SEEDS)
@settings(deadline=None, max_examples=25)
def test_a_band_never_knows_the_month_that_it_is_for(seed: int) -> None:
    whole = drawn(seed)
    last = whole.periods == whole.periods[-1]
    changed = calibrate(
        np.where(last, 50.0, whole.scores), whole.periods, [whole.names[n] for n in whole.groups], 5.0
    )

    assert changed is not None
    np.testing.assert_array_equal(whole.replayed(0.8)[1], changed.replayed(0.8)[1])


@given(SEEDS, LEVELS)
def test_a_quantile_is_never_below_what_the_scores_carry(seed: int, level: float) -> None:
    size = np.abs(np.random.default_rng(seed).standard_t(5, 25))
    plain = conformal_quantile(size, level)

    found = carried_quantile(size, level, 5.0, absolute=True)

    assert np.isfinite(found)
    assert found >= (size.max() if np.isinf(plain) else plain)


@given(SEEDS, st.floats(0.2, 5))
@settings(deadline=None, max_examples=25)
def test_scores_twice_as_wide_make_bands_twice_as_wide(seed: int, times: float) -> None:
    whole = drawn(seed, groups=1)
    wider = calibrate(whole.scores * times, whole.periods, ["g0"] * len(whole.scores), 5.0)

    assert wider is not None
    low, high = whole.band(0.5, ["g0"])
    wide_low, wide_high = wider.band(0.5, ["g0"])
    assert (wide_high - wide_low)[0] == pytest.approx(times * (high - low)[0], rel=0.1)
