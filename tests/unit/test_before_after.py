"""Differences in differences: what the treated gained over the untreated."""

import numpy as np
import pytest

from pipeline.answers.restoration.before_after import DRIFT, effects_on_changes
from pipeline.errors import FitError
from tests.restorations import normal


def test_a_change_of_all_pairs_is_no_effect_of_the_treatment() -> None:
    treated = np.array([[False], [False], [True], [True]])
    contrast = effects_on_changes(
        np.array([0.1, 0.1, 0.1, 0.1]), treated, ["reglue"], np.ones(4), degrees_of_freedom=np.inf
    )

    assert contrast.effect("reglue") == pytest.approx(0)
    assert contrast.effect(DRIFT) == pytest.approx(0.1)


def test_a_change_with_half_the_error_counts_four_times() -> None:
    treated = np.array([[False], [False], [True]])
    contrast = effects_on_changes(
        np.array([0.0, 0.5, 1.0]), treated, ["reglue"], np.array([1.0, 0.5, 1.0]), degrees_of_freedom=np.inf
    )

    assert contrast.effect(DRIFT) == pytest.approx(4 / 5 * 0.5)


def test_a_typing_error_hardly_moves_an_effect() -> None:
    treated = np.array([[number % 2 == 1] for number in range(40)])
    changes = 0.1 * treated[:, 0] + 0.05 * normal(40, seed=1)
    spoilt = changes.copy()
    spoilt[1] = 2.3  # ten times too high
    scales = np.full(40, 0.05)
    clean, moved = (
        effects_on_changes(one, treated, ["reglue"], scales, degrees_of_freedom=5.0)
        for one in (changes, spoilt)
    )

    assert moved.effect("reglue") == pytest.approx(clean.effect("reglue"), abs=0.02)


def test_treatments_that_always_occur_together_cannot_be_separated() -> None:
    treated = np.array([[False, False], [True, True], [True, True], [False, False]])

    with pytest.raises(FitError, match="cannot separate 3 effects"):
        effects_on_changes(
            np.arange(4.0), treated, ["reglue", "repaint"], np.ones(4), degrees_of_freedom=np.inf
        )


def test_the_smoother_gives_the_coefficients() -> None:
    treated = np.array([[number % 3 == 0] for number in range(12)])
    changes = normal(12, seed=2)
    contrast = effects_on_changes(changes, treated, ["reglue"], np.ones(12), degrees_of_freedom=4.0)

    assert contrast.smoother @ changes == pytest.approx(contrast.coefficients)


def test_an_unknown_effect_is_a_key_error() -> None:
    contrast = effects_on_changes(
        np.array([0.0, 1.0]), np.array([[False], [True]]), ["reglue"], np.ones(2), degrees_of_freedom=np.inf
    )

    with pytest.raises(KeyError, match="repaint"):
        contrast.effect("repaint")
