"""Neighbours: what the nearest earlier sales fetched, and whether it counts."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from pipeline.hedonic.fit import fit
from pipeline.hedonic.neighbours import UNUSED, measure_second_stage, neighbour_residuals
from pipeline.hedonic.specification import Specification, Term
from tests.inverses import in_full

SPEC = Specification(
    "log_price",
    (Term("kind", "level", ("kind",)), Term("size", "linear", ("size",)), Term("month", "walk", ("month",))),
)


def sold() -> pl.DataFrame:
    draws = np.random.default_rng(2)
    kind, size, month = draws.integers(0, 2, 300), draws.integers(0, 50, 300), draws.integers(0, 12, 300)
    return pl.DataFrame(
        {
            "kind": np.array(["hi", "lo"])[kind],
            "size": size,
            "month": month,
            "log_price": 4 + kind + 0.05 * size + draws.normal(0, 0.1, 300),
        }
    )


SUBJECT = pl.DataFrame({"kind": ["hi"], "size": [25], "month": [12]})


def mean_of(residuals: np.ndarray, within: str | None = None, subject: pl.DataFrame = SUBJECT) -> float:  # type: ignore[type-arg]
    frame = sold()
    mean, _ = neighbour_residuals(
        fit(frame, SPEC), frame, residuals, np.full(300, 0.2), subject, within=within, nearest=10
    )
    return float(mean[0])


def test_neighbours_that_all_fetched_more_raise_the_value_by_that() -> None:
    assert mean_of(np.full(300, 0.15)) == pytest.approx(0.15)


def test_far_sales_do_not_count() -> None:
    near = (sold()["size"] - 25).abs().to_numpy() < 15

    assert mean_of(np.where(near, 0.1, -0.3)) == pytest.approx(0.1)


def test_a_neighbour_ten_times_too_expensive_counts_for_two_scales_at_most() -> None:
    assert mean_of(np.full(300, 2.3)) == pytest.approx(0.4)


def test_a_variance_that_rounding_left_below_zero_is_zero() -> None:
    frame = sold()
    fitted = fit(frame, SPEC)
    rounded = replace(
        fitted,
        coefficients=0 * fitted.coefficients,
        covariance=in_full(-1e-19 * np.eye(len(fitted.coefficients))),
    )
    alike = frame.with_columns(size=25)

    mean, _ = neighbour_residuals(rounded, alike, np.full(300, 0.1), np.full(300, 0.2), SUBJECT, nearest=10)

    assert mean[0] == pytest.approx(0.1)


def test_a_difference_of_two_effects_that_err_together_is_better_known_than_either() -> None:
    """By hand: three kinds of effect 0, whose errors have variance 0.04 and, of the two that are sold, covariance.

    Ours is "hi" (coefficient 2), theirs are "lo" (1) and "mid" (the reference, without error). With a covariance of
    0.0395 the difference hi - lo has the variance 0.04 + 0.04 - 2 × 0.0395 = 0.001, and hi - mid 0.04: "lo" is the
    nearest, √0.001 against √0.04. Without the covariance it would be 0.08, and "mid" the nearest. The kernel's reach
    is √0.04 × (1 + 1/2) = 0.3, so the weights are (1 - (0.0316/0.3)³)³ = 0.9965 and (1 - (0.2/0.3)³)³ = 0.3485, and
    the mean of residuals 0.1 ("lo") and 0 ("mid") is 0.1 × 0.9965 / 1.3450 = 0.07409.
    """
    frame = pl.DataFrame(
        {"kind": ["mid"] * 3 + ["lo"] * 2 + ["hi"] * 2, "log_price": [4.0, 4.1, 4.2] * 2 + [4.0]}
    )
    fitted = fit(frame, Specification("log_price", (Term("kind", "level", ("kind",), "mid"),)))
    [lo, hi] = (fitted.labels.filter(pl.col("level") == level)["position"][0] for level in ("lo", "hi"))
    covariance = np.zeros((3, 3))
    covariance[[lo, hi], [lo, hi]] = 0.04
    covariance[[lo, hi], [hi, lo]] = 0.0395
    known = replace(fitted, coefficients=np.zeros(3), covariance=in_full(covariance))
    past, ours = pl.DataFrame({"kind": ["lo", "mid"]}), pl.DataFrame({"kind": ["hi"]})

    mean, _ = neighbour_residuals(known, past, np.array([0.1, 0.0]), np.full(2, 0.2), ours)

    assert mean[0] == pytest.approx(0.07409, abs=1e-5)


def test_a_pair_has_neighbours_of_its_own_kind_only() -> None:
    own = (sold()["kind"] == "hi").to_numpy()

    assert mean_of(np.where(own, 0.1, -0.3), within="kind") == pytest.approx(0.1)


def test_a_kind_that_was_never_sold_has_no_neighbours() -> None:
    new = SUBJECT.with_columns(kind=pl.lit("new"))

    assert mean_of(np.full(300, 0.1), within="kind", subject=new) == 0


def test_neighbours_that_foretell_the_error_are_used() -> None:
    draws = np.random.default_rng(3)
    told, periods = draws.normal(0, 0.1, 800), np.repeat(np.arange(16), 50)

    stage, shares = measure_second_stage(0.8 * told + draws.normal(0, 0.1, 800), told, periods)

    assert stage.used
    assert stage.share == pytest.approx(0.8, abs=0.1)
    assert shares[0] == 0


def test_neighbours_that_foretell_nothing_are_not_used() -> None:
    draws = np.random.default_rng(4)

    stage, _ = measure_second_stage(
        draws.normal(0, 0.1, 800), draws.normal(0, 0.1, 800), np.repeat(np.arange(16), 50)
    )

    assert not stage.used


def test_few_periods_prove_nothing() -> None:
    assert measure_second_stage(np.ones(10), np.ones(10), np.arange(10) // 5)[0] == UNUSED
