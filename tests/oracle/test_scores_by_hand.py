"""Scores against their definition, by scipy's quadrature, and where they are simple by hand.

The score of an error is the Student-t value whose tail is as likely as the error's own under N(0, variance) +
scale × Student-t. Tolerance: relative 1e-6, that of the quadrature far out.
"""

import numpy as np
import pytest
from scipy import integrate, stats

from pipeline.hedonic.scores import FAR, errors_of, scores_of

RELATIVE = 1e-6


def expected_score(error: float, deviation: float, scale: float, degrees_of_freedom: float) -> float:
    """Return the score of an error above zero, its tail by adaptive quadrature over Student-t."""

    def beyond(t: float) -> float:
        return float(stats.norm.sf((error - scale * t) / deviation) * stats.t.pdf(t, degrees_of_freedom))

    tail = integrate.quad(beyond, -np.inf, error / scale - 8 * deviation / scale)[0]
    tail += integrate.quad(
        beyond, error / scale - 8 * deviation / scale, error / scale + 8 * deviation / scale
    )[0]
    tail += integrate.quad(beyond, error / scale + 8 * deviation / scale, np.inf)[0]
    return float(stats.t.isf(tail, degrees_of_freedom))


@pytest.mark.parametrize("degrees_of_freedom", [3.0, 5.0])
@pytest.mark.parametrize(
    ("error", "deviation", "scale"), [(0.5, 0.3, 0.2), (0.05, 0.4, 0.3), (2.0, 0.1, 0.2)]
)
def test_a_score_has_the_tail_of_its_error(
    error: float, deviation: float, scale: float, degrees_of_freedom: float
) -> None:
    expected = expected_score(error, deviation, scale, degrees_of_freedom)
    found = scores_of([error, -error], deviation**2, scale, degrees_of_freedom)
    assert found == pytest.approx([expected, -expected], rel=RELATIVE)


def test_under_gaussian_errors_a_score_counts_deviations_of_the_sum() -> None:
    """√(.09 + .4²) = .5."""
    assert scores_of([1.0, -0.25], 0.09, 0.4, np.inf) == pytest.approx([2.0, -0.5])
    assert errors_of([2.0, -0.5], 0.09, 0.4, np.inf) == pytest.approx([1.0, -0.25])


def test_no_error_has_no_score_and_no_score_no_error() -> None:
    assert scores_of([0.0, 0.0], [0.04, 0.0], 0.2, 5.0).tolist() == [0.0, 0.0]
    assert errors_of([0.0], 0.04, 0.2, 5.0) == pytest.approx([0.0], abs=1e-9)


def test_far_out_a_score_is_the_error_in_scales() -> None:
    """The variance .04 and the scale .2 make .2828; sixty of those are 16.97."""
    limit = FAR * 0.08**0.5
    near, far = scores_of([limit * 0.999, limit * 1.001], 0.04, 0.2, 5.0)
    assert far == pytest.approx(limit * 1.001 / 0.2, rel=1e-12)
    assert near < far
    assert near != pytest.approx(limit * 0.999 / 0.2, rel=1e-9)


def test_records_of_unlike_scale_are_scored_each_by_its_own() -> None:
    together = scores_of([0.3, 0.3, -0.3], [0.01, 0.04, 0.0], [0.1, 0.2, 0.3], 5.0)
    alone = [
        scores_of([error], variance, scale, 5.0)[0]
        for error, variance, scale in [(0.3, 0.01, 0.1), (0.3, 0.04, 0.2), (-0.3, 0.0, 0.3)]
    ]
    assert together == pytest.approx(alone)
    assert together[2] == pytest.approx(-1.0)


def test_scores_of_several_records_lead_back_to_their_errors() -> None:
    errors, variances, scales = [0.3, -0.5, 0.3, 0.0], [0.01, 0.04, 0.0, 0.04], [0.1, 0.2, 0.3, 0.2]
    scores = scores_of(errors, variances, scales, 4.0)
    assert errors_of(scores, variances, scales, 4.0) == pytest.approx(errors, abs=1e-8)


@pytest.mark.parametrize(("variance", "scale", "limit"), [(3.0, 1.0, 120.0), (12.0, 2.0, 240.0)])
def test_from_sixty_deviations_of_the_sum_on_only_scales_are_counted(
    variance: float, scale: float, limit: float
) -> None:
    """√(3 + 1²) = 2 and √(12 + 2²) = 4, sixty times."""
    at, beyond = scores_of([limit, limit + 5], variance, scale, 5.0)
    assert (at, beyond) == (limit / scale, (limit + 5) / scale)


def test_within_sixty_deviations_the_estimates_error_draws_the_score_in() -> None:
    """Far out the tail of a sum is that of Student-t at x (1 − 3 variance / x²): 100 − .09."""
    assert scores_of([100.0], 3.0, 1.0, 5.0)[0] == pytest.approx(99.91, abs=0.005)


def test_an_estimate_without_error_is_scored_to_the_last_digit() -> None:
    assert scores_of([-0.6, 0.3], 0.0, 0.3, 5.0).tolist() == [-2.0, 1.0]


@pytest.mark.parametrize(
    ("errors", "variances", "scales"),
    [
        ([0.5, None], [0.09, 0.09], [0.4, 0.4]),
        ([0.5, 0.5], [0.09, None], [0.4, 0.4]),
        ([0.5, 0.5], [0.09, 0.09], [0.4, None]),
    ],
)
def test_what_is_not_known_of_a_record_leaves_it_without_a_score(
    errors: list[float | None], variances: list[float | None], scales: list[float | None]
) -> None:
    known, unknown = scores_of(errors, variances, scales, np.inf)
    assert known == pytest.approx(1.0)
    assert np.isnan(unknown)
