"""How many grades a treatment gains: the owner's figure, and what pairs graded twice say."""

import numpy as np
import pytest

from pipeline.answers.restoration.grade_gains import OWNERS_ERROR, estimate_gains
from sample_data import scenario
from tests.restorations import graded_twice, resold


def gain(name: str, *changes: tuple[tuple[str, ...], float]) -> tuple[float, float]:
    return estimate_gains(graded_twice(*changes), scenario.market()).of((name,))


def test_without_a_pair_graded_twice_the_owners_figure_is_used() -> None:
    gains = estimate_gains(resold(), scenario.market())

    assert gains.mean == pytest.approx(gains.stated)
    assert gains.of(("reglue",)) == (1.0, OWNERS_ERROR)


def test_many_pairs_outweigh_the_owners_figure() -> None:
    mean, error = gain("reglue", *[(("reglue",), change) for change in (0.0, 0.5, 0.5, 1.0) * 25])

    assert mean == pytest.approx(0.5, abs=0.02)
    assert error < 0.05


def test_a_single_pair_moves_the_owners_figure_half_way() -> None:
    # both are known to half a grade
    assert gain("reglue", (("reglue",), 0.0)) == pytest.approx((0.5, OWNERS_ERROR / 2**0.5))


def test_treatments_done_together_share_what_they_gained() -> None:
    gains = estimate_gains(graded_twice(*[(("deep clean", "repaint"), 3.0)] * 50), scenario.market())

    assert gains.of(("deep clean", "repaint"))[0] == pytest.approx(3.0, abs=0.05)
    assert gains.of(("deep clean",))[0] == pytest.approx(0.5 + 0.75, abs=0.05)


def test_what_is_done_together_is_known_better_than_each_alone() -> None:
    gains = estimate_gains(graded_twice(*[(("deep clean", "repaint"), 1.5)] * 50), scenario.market())

    assert gains.of(("deep clean", "repaint"))[1] < gains.of(("deep clean",))[1]


def test_the_spread_is_that_of_single_outcomes() -> None:
    gains = estimate_gains(
        graded_twice(*[(("reglue",), change) for change in (0.0, 1.0) * 60]), scenario.market()
    )

    assert gains.spread == pytest.approx(0.5, abs=0.02)
    assert np.all(gains.pairs == [0, 120, 0, 0, 0])
