"""Calibration: bands follow what later sales showed."""

import numpy as np

from pipeline.hedonic.calibration import FEWEST_SCORES, calibrate, from_document, to_document
from pipeline.hedonic.conformal import group_factors

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


def test_a_calibration_is_stored_and_read_back_the_same() -> None:
    made = calibrate(scores(), MONTHS, ["a", "b"] * (len(MONTHS) // 2), np.inf)

    assert made is not None
    again = from_document(*to_document(made))
    np.testing.assert_array_equal(again.band(0.95, ["a", "b"]), made.band(0.95, ["a", "b"]))
