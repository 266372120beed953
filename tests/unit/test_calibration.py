"""Calibration: bands follow what later sales showed."""

import numpy as np
import pytest
import scipy.stats

from pipeline.hedonic.calibration import FEWEST_SCORES, calibrate, from_document, to_document
from pipeline.hedonic.conformal import group_factors
from pipeline.hedonic.scores import scales_in_time

MONTHS = np.repeat(np.arange(24), 40)


def scores(seed: int = 1) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.random.default_rng(seed).standard_t(5, len(MONTHS))


def test_twenty_nine_later_sales_calibrate_nothing() -> None:
    few = FEWEST_SCORES - 1

    assert calibrate(scores()[:few], MONTHS[:few], [""] * few, 5.0) is None


def test_no_later_sale_calibrates_nothing() -> None:
    assert calibrate(np.zeros(0), np.zeros(0, dtype=np.int64), [], 5.0) is None


def test_bands_that_held_too_few_become_wider() -> None:
    model, wild = (calibrate(times * scores(), MONTHS, [""] * len(MONTHS), 5.0) for times in (1.0, 1.6))

    assert model is not None
    assert wild is not None
    assert wild.band(0.8, [""])[1] > 1.4 * model.band(0.8, [""])[1]


def test_a_band_reaches_farther_on_the_side_of_the_surprises() -> None:
    leaning = calibrate(np.exp(scores() / 2) - 1, MONTHS, [""] * len(MONTHS), 5.0)

    assert leaning is not None
    low, high = leaning.band(0.8, [""])
    assert high[0] > 1.3 * -low[0]


def test_even_surprises_make_an_even_band() -> None:
    even = calibrate(np.concatenate([scores(), -scores()]), np.tile(MONTHS, 2), [""] * 2 * len(MONTHS), 5.0)

    assert even is not None
    low, high = even.band(0.8, [""])
    np.testing.assert_allclose(-low, high, rtol=1e-12)


def test_a_group_that_scatters_more_gets_a_wider_band() -> None:
    groups = np.where(np.arange(len(MONTHS)) % 2 == 0, "wild", "tame")
    made = calibrate(scores() * np.where(groups == "wild", 2.0, 1.0), MONTHS, groups.tolist(), 5.0)

    assert made is not None
    high = made.band(0.8, ["wild", "tame", "never seen"])[1]
    assert high[0] > 1.5 * high[1]
    assert high[1] < high[2] < high[0]


def test_groups_that_scatter_alike_share_one_band() -> None:
    groups = np.tile([0, 1, 2, 3], len(MONTHS) // 4)

    factors = group_factors(scores(), groups, 4, 0.8, 5.0)

    np.testing.assert_allclose(factors, 1, atol=0.06)


def test_a_group_of_few_sales_is_taken_with_the_rest() -> None:
    groups = np.where(np.arange(len(MONTHS)) < 10, 0, 1)

    assert group_factors(np.where(groups == 0, 9.0, scores()), groups, 2, 0.8, 5.0)[0] == 1


def test_a_market_that_turns_is_followed() -> None:
    drifting = scores() + np.where(MONTHS >= 12, 1.2, 0.0)
    made = calibrate(drifting, MONTHS, [""] * len(MONTHS), 5.0)

    assert made is not None
    low, high = made.replayed(0.8)
    late = MONTHS >= 18
    inside = (made.scores >= low) & (made.scores <= high)
    unmoved = (made.scores >= made.replayed(0.8)[0][500]) & (made.scores <= made.replayed(0.8)[1][500])
    assert inside[late].mean() > 0.75 > unmoved[late].mean()


@pytest.mark.parametrize(("then", "count"), [(0.5, 10), (2.0, 10), (0.5, 100), (2.0, 100)])
def test_bands_follow_a_market_that_becomes_calmer_or_wilder(then: float, count: int) -> None:
    months = np.repeat(np.arange(72), count)
    wide = then ** (np.clip(months - 36, 0, 24) / 24)
    inside = []
    for seed in range(1_000 // count):
        wild = wide * np.random.default_rng(seed).standard_t(5, len(months))
        made = calibrate(wild, months, [""] * len(months), 5.0)
        assert made is not None
        low, high = made.replayed(0.8)
        inside.append(((wild >= low) & (wild <= high))[months >= 36].mean())

    assert abs(np.mean(inside) - 0.8) < 0.015


def test_scores_are_as_wide_as_their_likelihood_says_where_nothing_changes() -> None:
    months = np.repeat(np.arange(40), 50)
    drawn = 1.7 * np.random.default_rng(4).standard_t(5, len(months))

    scales = scales_in_time(drawn, months, 5.0, FEWEST_SCORES, walks=(0.0,))

    _, _, likeliest = scipy.stats.t.fit(drawn, fix_df=5.0, floc=0.0)
    assert scales[-1] == pytest.approx(likeliest, rel=0.005)


def test_scores_times_a_number_are_as_many_times_as_wide() -> None:
    once, fourfold = (scales_in_time(times * scores(), MONTHS, np.inf, FEWEST_SCORES) for times in (1.0, 4.0))

    np.testing.assert_allclose(fourfold, 4 * once, rtol=1e-12)


def test_scores_without_an_error_have_a_scale() -> None:
    assert (scales_in_time(np.zeros(100), np.arange(100) // 10, 5.0, FEWEST_SCORES) > 0).all()


def test_a_calibration_is_stored_and_read_back_the_same() -> None:
    made = calibrate(scores(), MONTHS, ["a", "b"] * (len(MONTHS) // 2), np.inf)

    assert made is not None
    again = from_document(*to_document(made))
    np.testing.assert_array_equal(again.band(0.95, ["a", "b"]), made.band(0.95, ["a", "b"]))
