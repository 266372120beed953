"""What draws effects together, worked out by hand on a few levels."""

import numpy as np
import pytest

from pipeline.hedonic.penalties import Penalty, differences, identity

CURVE = Penalty("size", start=1, size=3, root=np.array([[1.0, -2.0, 1.0]]))
POOLED = identity("venue", start=2, size=2)
EFFECTS = np.array([9.0, 1.0, 2.0, 5.0])


def test_a_walk_over_equal_steps_penalises_plain_differences() -> None:
    assert differences(np.array([3.0, 4.0, 5.0]), order=1).tolist() == [[-1, 1, 0], [0, -1, 1]]


def test_a_walk_over_a_gap_of_four_has_twice_the_deviation() -> None:
    assert differences(np.array([0.0, 4.0, 5.0]), order=1).tolist() == [[-0.5, 0.5, 0], [0, -1, 1]]


@pytest.mark.parametrize("step", [1.0, 0.5, 2.0])
def test_a_curve_over_equal_steps_penalises_plain_second_differences(step: float) -> None:
    found = differences(step * np.arange(4), order=2)
    assert found == pytest.approx(np.array([[1, -2, 1, 0], [0, 1, -2, 1]]))


def test_a_curve_over_steps_of_one_and_three_weighs_each_slope_by_its_step() -> None:
    """The mean step is 2, as is the stretch: 2^(3/2) / √2 = 2, so 2/1, −2(1/1 + 1/3) and 2/3."""
    found = differences(np.array([0.0, 1.0, 4.0]), order=2)
    assert found == pytest.approx(np.array([[2, -8 / 3, 2 / 3]]))


def test_a_curve_weighs_each_stretch_by_its_own_width() -> None:
    """Steps 1, 3, 2: the mean is 2, the stretches 2 and 2.5; 2^(3/2) over √2 is 2, over √2.5 1.788854."""
    found = differences(np.array([0.0, 1.0, 4.0, 6.0]), order=2)
    expected = [[2, -2.666667, 0.666667, 0], [0, 0.596285, -1.490712, 0.894427]]
    assert found == pytest.approx(np.array(expected), abs=5e-7)


@pytest.mark.parametrize(("levels", "order"), [(1, 1), (1, 2), (2, 2)])
def test_too_few_levels_are_drawn_by_nothing(levels: int, order: int) -> None:
    assert differences(np.arange(float(levels)), order=order).shape == (0, levels)


def test_two_levels_of_a_walk_and_three_of_a_curve_are_enough() -> None:
    assert differences(np.arange(2.0), order=1).tolist() == [[-1, 1]]
    assert differences(np.arange(3.0), order=2).tolist() == [[1, -2, 1]]


def test_a_pooled_term_has_the_rank_of_its_levels_and_a_curve_that_of_its_bends() -> None:
    assert (POOLED.rank, CURVE.rank) == (2, 1)
    assert (POOLED.span, CURVE.span) == (slice(2, 4), slice(1, 4))
    assert (POOLED.term, CURVE.term) == ("venue", "size")


def test_the_roughness_of_a_curve_is_the_square_of_its_bend() -> None:
    assert CURVE.form(EFFECTS) == 4  # 1 − 2 · 2 + 5 = 2


def test_the_roughness_of_a_pooled_term_is_the_sum_of_its_squares() -> None:
    assert POOLED.form(EFFECTS) == 29  # 2² + 5²


def test_a_penalty_is_its_root_times_itself() -> None:
    assert CURVE.matrix().tolist() == [[1, -2, 1], [-2, 4, -2], [1, -2, 1]]
    assert POOLED.matrix().tolist() == [[1, 0], [0, 1]]


def test_a_penalty_times_a_block_is_the_product_with_its_matrix() -> None:
    assert CURVE.times(np.array([1.0, 2.0, 5.0])).tolist() == [2, -4, 2]
    assert POOLED.times(np.array([2.0, 5.0])).tolist() == [2, 5]


def test_a_penalty_is_added_where_its_coefficients_stand() -> None:
    matrix = np.ones((4, 4))
    POOLED.add_to(matrix, 3.0)
    CURVE.add_to(matrix, 0.5)
    assert matrix.tolist() == [
        [1, 1, 1, 1],
        [1, 1.5, 0, 1.5],
        [1, 0, 6, 0],
        [1, 1.5, 0, 4.5],
    ]
