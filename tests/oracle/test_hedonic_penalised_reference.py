"""The penalised fit against mgcv 1.8-41 (R 4.2.2, REML) on invented rows (data/README.md).

Tolerance: relative 1e-6, the digits to which both searches for lambda stop.
"""

from functools import cache
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import design_rows, predict
from pipeline.hedonic.specification import Specification, Term

DATA = Path(__file__).parent / "data"
RELATIVE = 1e-6

GRADE = Term("grade", "linear", ("grade",))
BOX = Term("box", "level", ("box",), "none")
GROUP = Term("group", "pooled", ("group",))
MONTH = Term("month", "walk", ("month",))


@cache
def rows() -> pl.DataFrame:
    return pl.read_csv(DATA / "penalised_reference.csv")


@cache
def pooled() -> Fit:
    return fit(rows(), Specification("log_price", (GRADE, BOX, GROUP)))


@cache
def walk() -> Fit:
    return fit(rows(), Specification("log_price", (GRADE, BOX, GROUP, MONTH)))


def named(found: Fit, column: str) -> dict[str, float]:
    labels = found.effects.select(pl.concat_str("term", "level", separator=" ").str.strip_chars(), column)
    return dict(labels.iter_rows())


def test_the_pooled_model_finds_the_reference_variance_and_lambda() -> None:
    assert pooled().sigma2 == pytest.approx(0.0758641108444, rel=RELATIVE)
    assert pooled().lambdas["group"] == pytest.approx(1.00190404412, rel=RELATIVE)


def test_the_pooled_model_finds_the_reference_spread_of_the_groups() -> None:
    spread = pooled().terms.filter(pl.col("term") == "group")["sd"].item()
    assert spread == pytest.approx(0.275172558123, rel=RELATIVE)
    assert pooled().residual_scale == pytest.approx(0.275434403887, rel=RELATIVE)


@pytest.mark.parametrize(
    ("effect", "estimate", "error"),
    [
        ("intercept", 4.98631313975, 0.0594234164816),
        ("grade per unit", 0.0783504453194, 0.00421254827409),
        ("box replacement", 0.084547686735, 0.0289935369399),
        ("box original", 0.169181659137, 0.028324170033),
    ],
)
def test_the_pooled_model_finds_the_reference_effects_and_errors(
    effect: str, estimate: float, error: float
) -> None:
    assert named(pooled(), "effect")[effect] == pytest.approx(estimate, rel=RELATIVE)
    assert named(pooled(), "error")[effect] == pytest.approx(error, rel=RELATIVE)


def test_the_pooled_model_finds_the_reference_fitted_values() -> None:
    found = predict(pooled(), rows().head(3))["log_price"].to_list()
    assert found == pytest.approx([5.86966955855, 5.83607001559, 5.90884478121], rel=RELATIVE)


def test_the_walk_model_finds_the_reference_variance_lambdas_and_effective_coefficients() -> None:
    assert walk().sigma2 == pytest.approx(0.0657464823274, rel=RELATIVE)
    assert walk().lambdas["group"] == pytest.approx(0.887705443784, rel=RELATIVE)
    assert walk().lambdas["month"] == pytest.approx(25.3939986556, rel=RELATIVE)
    assert walk().edf == pytest.approx(45.6301928493, rel=RELATIVE)


def test_the_walk_model_finds_the_reference_fitted_values() -> None:
    found = predict(walk(), rows().head(4))["log_price"].to_list()
    known = [5.89286299674, 5.82451612521, 5.90586682335, 5.83181786249]
    assert found == pytest.approx(known, rel=RELATIVE)


def reference_coefficients() -> dict[str, tuple[float, float]]:
    table = pl.read_csv(DATA / "penalised_reference_coefficients.csv")
    return {term: (estimate, error) for term, estimate, error in table.iter_rows()}


def month_levels() -> tuple[np.ndarray, np.ndarray]:
    """Return the months' own levels and errors without an intercept: intercept + month, all else zero."""
    plain = rows().select("month").unique().sort("month")
    plain = plain.with_columns(
        pl.lit(0.0).alias("grade"), pl.lit("none").alias("box"), pl.lit("-").alias("group")
    )
    designs = design_rows(walk(), plain).toarray()
    errors = np.sqrt(np.einsum("ij,jk,ik->i", designs, walk().covariance.dense(), designs))
    return designs @ walk().coefficients, errors


def test_every_month_has_the_level_and_error_of_the_reference_without_an_intercept() -> None:
    known = reference_coefficients()
    levels, errors = month_levels()
    assert levels == pytest.approx([known[f"Zmonth{month}"][0] for month in range(48)], rel=RELATIVE)
    assert errors == pytest.approx([known[f"Zmonth{month}"][1] for month in range(48)], rel=RELATIVE)


def test_every_group_has_the_effect_and_error_of_the_reference() -> None:
    known = reference_coefficients()
    groups = [f"g{number:02d}" for number in range(30)]
    effects, errors = named(walk(), "effect"), named(walk(), "error")
    expected = [known[f"Wgroup{group}"] for group in groups]
    assert [effects[f"group {group}"] for group in groups] == pytest.approx(
        [estimate for estimate, _ in expected], rel=RELATIVE
    )
    assert [errors[f"group {group}"] for group in groups] == pytest.approx(
        [error for _, error in expected], rel=RELATIVE
    )


@pytest.mark.parametrize(
    ("effect", "term"),
    [("grade per unit", "grade"), ("box replacement", "replacement"), ("box original", "original")],
)
def test_the_walk_model_finds_the_unpenalised_effects_of_the_reference(effect: str, term: str) -> None:
    estimate, error = reference_coefficients()[term]
    assert named(walk(), "effect")[effect] == pytest.approx(estimate, rel=RELATIVE)
    assert named(walk(), "error")[effect] == pytest.approx(error, rel=RELATIVE)


def test_four_directions_stay_unpenalised_in_either_model() -> None:
    assert (pooled().unpenalised, walk().unpenalised) == (4, 4)


def test_the_search_needs_fewer_than_thirty_solves() -> None:
    assert walk().convergence.converged
    assert walk().convergence.steps < 30
