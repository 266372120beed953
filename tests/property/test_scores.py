"""Scores: what must hold for any record."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.hedonic.scores import errors_of, scores_of

ERRORS = st.floats(-20, 20).filter(lambda error: abs(error) > 1e-6)
VARIANCES = st.floats(0, 4)
SCALES = st.floats(0.02, 3)
TAILS = st.sampled_from([3.0, 5.0, 30.0, np.inf])


@settings(deadline=None, max_examples=50)
@given(ERRORS, VARIANCES, SCALES, TAILS)
def test_a_score_leads_back_to_its_error(
    error: float, variance: float, scale: float, degrees_of_freedom: float
) -> None:
    score = scores_of([error], variance, scale, degrees_of_freedom)

    if abs(error) < 6 * np.sqrt(variance + scale**2):
        assert errors_of(score, variance, scale, degrees_of_freedom)[0] == pytest.approx(
            error, rel=1e-5, abs=1e-7
        )


@settings(deadline=None, max_examples=50)
@given(ERRORS, VARIANCES, SCALES, TAILS)
def test_the_larger_error_has_the_larger_score(
    error: float, variance: float, scale: float, degrees_of_freedom: float
) -> None:
    small, large = scores_of([error, error * 1.01], variance, scale, degrees_of_freedom)

    assert np.sign(small) == np.sign(error)
    assert abs(large) > abs(small)


@given(ERRORS, SCALES, TAILS)
def test_without_error_of_the_estimate_a_score_counts_scales(
    error: float, scale: float, degrees_of_freedom: float
) -> None:
    assert scores_of([error], 0.0, scale, degrees_of_freedom)[0] == pytest.approx(error / scale)
