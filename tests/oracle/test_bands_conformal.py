"""Conformal quantiles against crepes 0.9.1, the reference library for them.

Tolerance 1e-8: both pick an order statistic of the same residuals, so only its last digits can differ.
(Where (n + 1) · level is whole, the reference's own rounding takes the next residual.)
Coverage bounds: Lei et al. 2018 (JASA 113), from memory.
What is made of the quantiles follows, by hand: drawn on by the Gaussian, by tail, by group.
"""

from collections.abc import Callable, Sequence
from math import exp, hypot, inf, log, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from crepes import ConformalRegressor
from numpy.typing import NDArray

from pipeline.hedonic.conformal import carried_quantile, conformal_quantile, group_factors, limits_of
from pipeline.hedonic.distributions import student_density, student_quantile

Array = NDArray[np.float64]
Whole = NDArray[np.int64]


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


# what is made of the quantiles, by hand


def gaussian(chance: float) -> float:
    return NormalDist().inv_cdf(chance)


def tail_error(tail: float, place: float, number: int) -> float:
    """Return √(p (1 - p) / n) over the Gaussian density at a place."""
    return sqrt(tail * (1 - tail) / number) / NormalDist().pdf(place)


SCORES = (np.arange(1.0, 100.0) - 30) / 50
"""99 scores from −0.58 to 1.38: the k-th smallest is (k − 30) / 50, and k = 100 · chance."""

ONE_GROUP = np.zeros(99, dtype=np.int64)


@pytest.mark.parametrize(("chance", "place"), [(0.8, 8), (0.81, 9), (0.9, 9), (0.05, 1), (0.0, 1)])
def test_nine_values_reach_as_far_as_nine_tenths(chance: float, place: int) -> None:
    values = np.array([5.0, 1, 9, 3, 7, 2, 8, 4, 6])
    assert conformal_quantile(values, chance) == place
    assert carried_quantile(values, chance, inf, absolute=False) == place
    assert carried_quantile(values, chance, inf, absolute=True) == place


def test_no_value_reaches_anywhere() -> None:
    assert conformal_quantile(np.zeros(0), 0.5) == inf


def test_without_values_the_model_says_how_far() -> None:
    assert carried_quantile(np.zeros(0), 0.9, inf, absolute=False) == pytest.approx(gaussian(0.9))
    assert carried_quantile(np.zeros(0), 0.9, inf, absolute=True) == pytest.approx(gaussian(0.95))
    # Student-t with two degrees of freedom: (2p − 1) / √(2p (1 − p)), here 0.8 / √0.18
    assert carried_quantile(np.zeros(0), 0.9, 2.0, absolute=False) == pytest.approx(0.8 / sqrt(0.18))


@pytest.mark.parametrize("absolute", [False, True])
def test_beyond_the_values_the_model_is_widened_by_what_they_ask_where_they_reach(absolute: bool) -> None:
    """Ten values reach 10/11; at nine tenths of it, 9/11, the ninth of them stands."""
    values = np.array([1.0, 1, 1, 1, 1, 1, 1, 1, 4, 5])
    near, far = (9 / 11, 0.99) if not absolute else (10 / 11, 0.995)
    expected = gaussian(far) * 4 / gaussian(near)
    assert carried_quantile(values, 0.99, inf, absolute=absolute) == pytest.approx(expected)


def test_beyond_narrow_values_the_model_stands_and_never_short_of_the_largest() -> None:
    values = np.array([0.1] * 9 + [0.2])
    assert carried_quantile(values, 0.99, inf, absolute=False) == pytest.approx(gaussian(0.99))
    assert carried_quantile(np.append(values[:9], 50), 0.99, inf, absolute=False) == 50


@pytest.mark.parametrize(
    ("below", "above", "own", "both"),
    [(0.1, 0.1, (0.4, 1.2), (1.0, 1.0)), (0.2, 0.05, (0.2, 1.3), (0.6, 1.2))],
)
def test_tails_apart_by_more_than_their_error_have_each_its_own(
    below: float, above: float, own: tuple[float, float], both: tuple[float, float]
) -> None:
    """Below: −SCORES at 100 (1 − p); both: |SCORES|, one zero, 1 to 29 fiftieths twice, 30 to 69 once."""
    found = limits_of(SCORES, ONE_GROUP, 1, below, above, inf)
    error = hypot(tail_error(below, own[0], 99), tail_error(above, own[1], 99))
    share = 1 - (error / ((own[1] - both[1]) - (own[0] - both[0]))) ** 2
    assert 0.5 < share < 1
    assert found.low == pytest.approx(-(share * own[0] + (1 - share) * both[0]))
    assert found.high == pytest.approx(share * own[1] + (1 - share) * both[1])
    assert found.factors.tolist() == [1]


def test_far_quantiles_have_the_error_of_twice_the_place_of_the_model() -> None:
    """Fifty times as far, 20 and 60 stand beyond 2 · 1.2816, where both densities are taken."""
    found = limits_of(50 * SCORES, ONE_GROUP, 1, 0.1, 0.1, inf)
    share = 1 - 2 * (tail_error(0.1, 2 * gaussian(0.9), 99) / 40) ** 2
    assert found.low == pytest.approx(-(share * 20 + (1 - share) * 50))
    assert found.high == pytest.approx(share * 60 + (1 - share) * 50)


def test_tails_apart_by_less_than_their_error_are_taken_together() -> None:
    scores = np.concatenate([np.arange(1.0, 5.0), -np.arange(1.5, 5.0)])
    found = limits_of(scores, np.zeros(8, dtype=np.int64), 1, 0.2, 0.2, inf)
    assert (found.low, found.high) == (-3.5, 3.5)  # k = ⌈9 · 0.6⌉ = 6 of 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5


def test_even_tails_are_taken_together() -> None:
    scores = np.concatenate([np.arange(1.0, 10.0), -np.arange(1.0, 10.0)])
    found = limits_of(scores, np.zeros(18, dtype=np.int64), 1, 0.1, 0.1, inf)
    assert (found.low, found.high) == (-8, 8)  # k = ⌈19 · 0.8⌉ = 16 of twice 1 to 9


def drawn_together(
    ratios: Sequence[float], numbers: Sequence[int], squared: Callable[[int], float] | None = None
) -> list[float]:
    """Return the factors that groups of so many scores get, by DerSimonian and Laird, at a level of 0.8.

    `squared` is the squared error of the log ratio of one group, for another level and other degrees_of_freedom.
    """
    squares = [
        squared(number) if squared else (tail_error(0.1, gaussian(0.9), number) / gaussian(0.9)) ** 2 / 2
        for number in numbers
    ]
    weights = [1 / square for square in squares]
    mean = sum(w * ratio for w, ratio in zip(weights, ratios, strict=True)) / sum(weights)
    about = sum(w * (ratio - mean) ** 2 for w, ratio in zip(weights, ratios, strict=True))
    excess = about - (len(weights) - 1)
    spread = max(0.0, excess / (sum(weights) - sum(w * w for w in weights) / sum(weights)))
    return [exp(r * spread / (spread + square)) for r, square in zip(ratios, squares, strict=True)]


def grouped(*groups: tuple[float, int]) -> tuple[Array, Whole]:
    """Return scores of alternating sign and one size a group, and the numbers of their groups."""
    sizes = np.concatenate([np.full(number, size) for size, number in groups])
    numbers = np.repeat(np.arange(len(groups)), [number for _, number in groups])
    return sizes * np.where(np.arange(len(sizes)) % 2 == 0, 1.0, -1.0), numbers


def test_groups_are_drawn_towards_all_scores_by_their_error() -> None:
    """Of 15, 60 and 14 scores and none: the 0.8 quantile of all 89 is 2, and fourteen are too few."""
    scores, groups = grouped((1.0, 15), (2.0, 60), (5.0, 14))
    wide, alike = drawn_together([log(0.5), 0.0], [15, 60])
    found = group_factors(scores, groups, 4, 0.8, inf)
    assert 0.5 < wide < 0.9
    assert found.tolist() == pytest.approx([wide, alike, 1, 1])


@pytest.mark.parametrize("unit", [1, 0.1])
def test_three_groups_are_drawn_about_their_mean_in_any_unit(unit: float) -> None:
    scores, groups = grouped((1.0, 20), (2.0, 30), (4.0, 50))
    expected = drawn_together([log(0.25), log(0.5), 0.0], [20, 30, 50])
    assert group_factors(unit * scores, groups, 3, 0.8, inf).tolist() == pytest.approx(expected)


def test_groups_far_apart_are_told_apart_by_far_tails_too() -> None:
    """Student-t with two degrees of freedom: (2p − 1) / √(2p (1 − p)) at p = 0.995, of density (2 + t²)^−1.5."""
    scores, groups = grouped((1.0, 15), (100.0, 16))
    place = 0.99 / sqrt(2 * 0.995 * 0.005)
    density = (2 + place**2) ** -1.5
    expected = drawn_together(
        [log(0.01), 0.0], [15, 16], lambda number: 0.005 * 0.995 / number / (density * place) ** 2 / 2
    )
    assert 0.01 < expected[0] < 0.9
    assert group_factors(scores, groups, 2, 0.99, 2.0).tolist() == pytest.approx(expected)


def test_groups_that_hardly_differ_get_no_factor_of_their_own() -> None:
    scores, groups = grouped((1.0, 20), (1.1, 30))
    assert group_factors(scores, groups, 2, 0.8, inf).tolist() == [1, 1]


def test_a_group_without_errors_is_a_thousandth_as_wide_at_least() -> None:
    scores, groups = grouped((0.0, 20), (2.0, 30))
    expected = drawn_together([log(0.001), 0.0], [20, 30])
    assert group_factors(scores, groups, 2, 0.8, inf).tolist() == pytest.approx(expected)


def test_one_group_alone_and_no_errors_at_all_get_no_factor() -> None:
    scores, groups = grouped((1.0, 30), (9.0, 10))
    assert group_factors(scores, groups, 2, 0.8, inf).tolist() == [1, 1]
    assert group_factors(np.zeros(40), np.arange(40) % 2, 2, 0.8, inf).tolist() == [1, 1]
    assert group_factors(np.zeros(0), np.zeros(0, dtype=np.int64), 2, 0.8, inf).tolist() == [1, 1]


def test_the_limits_are_those_of_scores_made_even_by_their_group() -> None:
    """An unknown group, −1, keeps its scores as they are."""
    scores, groups = grouped((1.0, 20), (2.0, 30))
    found = limits_of(np.append(scores, 3.0), np.append(groups, -1), 2, 0.1, 0.1, inf)
    wide = drawn_together([log(0.5), 0.0], [20, 30])
    assert found.factors.tolist() == pytest.approx(wide)
    assert found.high == pytest.approx(2)
    assert found.low == pytest.approx(-2)


def test_a_score_counts_by_the_width_of_its_group() -> None:
    """Of 110 even scores k = 100 below and 78 above by size, 106 and 95 by tail: at 4, and in the group of 2."""
    scores, groups = grouped((1.0, 20), (2.0, 60), (4.0, 30))
    found = limits_of(scores, groups, 3, 0.05, 0.15, inf)
    middle = drawn_together([log(0.25), log(0.5), 0.0], [20, 60, 30])[1]
    assert found.low == pytest.approx(-4)
    assert found.high == pytest.approx(2 / middle)


def test_limits_beyond_the_scores_are_drawn_on_by_the_model_with_its_tails() -> None:
    scores = np.array([-0.5, 1000, 2000, 3000, 4000, 5000, 6000, 7000, 8000])
    found = limits_of(scores, np.zeros(9, dtype=np.int64), 1, 0.01, 0.02, 5.0)
    own_low = student_quantile(0.99, 5.0)
    own_high = carried_quantile(scores, 0.98, 5.0, absolute=False)
    both_low, both_high = (carried_quantile(np.abs(scores), at, 5.0, absolute=True) for at in (0.98, 0.96))
    far = student_density(2 * student_quantile(0.98, 5.0), 5.0)
    near = student_density(own_low, 5.0)
    error = hypot(sqrt(0.01 * 0.99 / 9) / near, sqrt(0.02 * 0.98 / 9) / far)
    share = 1 - (error / ((own_high - both_high) - (own_low - both_low))) ** 2
    assert found.low == pytest.approx(-(share * own_low + (1 - share) * both_low))
    assert found.high == pytest.approx(share * own_high + (1 - share) * both_high)


@pytest.mark.parametrize("place", [1, 2, 700, 1250, 2500, 3999, 4998, 4999])
def test_each_of_many_values_is_found_at_its_place(place: int) -> None:
    values = np.random.default_rng(place).permutation(np.arange(1.0, 5000.0))
    assert conformal_quantile(values, place / 5000) == place
    assert conformal_quantile(np.array([7.0]), 0.5) == 7
