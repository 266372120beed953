"""Robust weights and scales: published constants, and small samples worked out by hand.

From memory: Huber (1964), at clip 1.345 the Gaussian efficiency is 95 %, which is kappa² / expected square; the two
constants are .8214 and .7102 (half of the last digit is the tolerance). Lange, Little & Taylor (1989): Student-t
errors of n degrees of freedom weigh (n + 1) / (n + z²) and carry (n + 1) / (n + 3) of the information.
"""

import numpy as np
import pytest

from pipeline.hedonic.robust import Robust, scale_from_median
from pipeline.hedonic.source import Batch
from pipeline.hedonic.tallies import CountSizes, Effects, SumScores, middle_sizes

NOTHING = Effects(np.zeros((1, 1)), np.array([0]))
"""One fit, which explains nothing: a record's residual is its response."""


def left(residuals: list[float]) -> Batch:
    """Return records with these residuals under NOTHING."""
    count = len(residuals)
    rows = np.arange(count)
    return Batch(
        np.zeros((count, 1), dtype=np.int32), np.array(residuals), None, np.zeros(count, dtype=np.int16), rows
    )


def next_scale(robust: Robust, residuals: list[float], scale: float, residual_df: float) -> float:
    """Return the scale after one round over records with these residuals."""
    sums = SumScores(NOTHING, np.array([scale]), robust)([left(residuals)])
    return robust.scale(float(sums["squares"][0]), float(sums["spread"][0]), residual_df)


def test_student_weights_fall_from_the_middle_on() -> None:
    found = Robust(degrees_of_freedom=5.0).weights(np.array([0.0, 1.0, -5.0]))
    assert found == pytest.approx([1.2, 1.0, 0.2])


def test_hubers_weight_is_one_within_the_clip_and_falls_beyond() -> None:
    found = Robust("huber", clip=1.5).weights(np.array([0.0, 1.0, -1.5, 3.0, -6.0]))
    assert found == pytest.approx([1.0, 1.0, 1.0, 0.5, 0.25])


def test_a_clip_below_one_leaves_what_lies_within_it_alone() -> None:
    assert Robust("huber", clip=0.5).weights(np.array([0.4, 0.5, 1.0])) == pytest.approx([1.0, 1.0, 0.5])


def test_five_degrees_of_freedom_leave_three_quarters_of_the_information() -> None:
    assert Robust(degrees_of_freedom=5.0).kappa == pytest.approx(6 / 8)


def test_hubers_constants_are_the_published_ones() -> None:
    huber = Robust("huber", clip=1.345)
    assert huber.kappa == pytest.approx(0.8214, abs=5e-5)
    assert huber.expected_square == pytest.approx(0.7102, abs=5e-5)
    assert huber.kappa**2 / huber.expected_square == pytest.approx(0.95, abs=5e-4)


def test_the_scale_of_student_errors_sums_their_weighted_squares() -> None:
    """At scale 1 and 3 df the weights of 1, 1 and 3 are 1, 1 and 1/3: (1 + 1 + 3) / 2 = 2.5."""
    found = next_scale(Robust(degrees_of_freedom=3.0), [1.0, -1.0, 3.0], 1.0, 2.0)
    assert found == pytest.approx(2.5**0.5)


def test_the_scale_that_the_weights_go_by_is_the_last_one() -> None:
    """At scale 2 and 3 df the weights of 2 and 6 are 1 and 1/3: (4 + 12) / 4 = 4."""
    assert next_scale(Robust(degrees_of_freedom=3.0), [2.0, 6.0], 2.0, 4.0) == pytest.approx(2.0)


def test_hubers_scale_sums_the_squares_of_clipped_errors() -> None:
    """Clipped at 1.345 · 2, errors of 1 and 5 count 1 and 2.69: (1 + 7.2361) / (.7101645 · 3), rooted."""
    found = next_scale(Robust("huber", clip=1.345), [1.0, -5.0], 2.0, 3.0)
    assert found == pytest.approx((8.2361 / (0.7101645 * 3)) ** 0.5, rel=1e-5)


def test_a_fit_starts_from_the_median_error_over_the_gaussian_one() -> None:
    """The median of 1, 2 and 100 is 2, as near as a histogram of bins of .23 tells."""
    root_mean_square = np.array([(10005 / 3) ** 0.5])
    sizes = CountSizes(NOTHING, root_mean_square)([left([-2.0, 1.0, 100.0])])["sizes"]
    assert middle_sizes(sizes, root_mean_square)[0] == pytest.approx(2, abs=0.23)


def test_a_starting_scale_allows_for_the_degrees_of_freedom() -> None:
    """Half of a Gaussian lies within .67449 deviations; √(3/2) for the df."""
    assert scale_from_median(2.0, 57.8, 3, 2.0) == pytest.approx(2 / 0.67449 * 1.5**0.5, rel=1e-5)


def test_where_most_errors_are_zero_the_scale_is_a_millionth_of_the_root_mean_square() -> None:
    assert scale_from_median(0.0, 5.0, 4, 3.0) == pytest.approx(5e-6)
