"""A typing error or a charity sale must not set the price, and is listed."""

from functools import cache

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipeline.hedonic.fit import fit
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.specification import Specification, Term

MODEL = Specification("log_price", (Term("box", "level", ("box",), "none"),))


@cache
def clean() -> pl.DataFrame:
    random = np.random.default_rng(5)
    boxed = random.integers(0, 2, 200)
    log_price = 5 + 0.2 * boxed + random.normal(0, 0.1, 200)
    return pl.DataFrame({"box": np.where(boxed, "original", "none"), "log_price": log_price})


@cache
def spoiled() -> pl.DataFrame:
    """Return the sales with five boxed pairs typed in at ten times their price."""
    first = clean().with_row_index("row").filter(pl.col("box") == "original").head(5)["row"]
    wrong = pl.int_range(pl.len()).is_in(first.to_list())
    return clean().with_columns(pl.when(wrong).then(pl.col("log_price") + np.log(10)).otherwise("log_price"))


def premium(frame: pl.DataFrame, robust: Robust | None) -> float:
    effects = fit(frame, MODEL, robust=robust).effects
    return float(effects.filter(pl.col("level") == "original")["effect"].item())


@pytest.mark.parametrize("robust", [Robust(), Robust(degrees_of_freedom=4.0), Robust("huber")])
def test_prices_typed_ten_times_too_high_hardly_move_the_premium(robust: Robust) -> None:
    truth = premium(clean(), None)
    assert abs(premium(spoiled(), None) - truth) > 0.1
    assert abs(premium(spoiled(), robust) - truth) < 0.02


def test_the_wrong_prices_are_listed_first() -> None:
    listed = fit(spoiled(), MODEL, robust=Robust()).downweighted
    wrong = spoiled().with_row_index("row").filter(pl.col("log_price") > 6)["row"].to_list()
    assert sorted(listed["row"].head(5).to_list()) == wrong
    assert listed["weight"].head(5).max() < 0.1


def test_a_fit_that_weighs_all_alike_lists_nothing() -> None:
    assert fit(spoiled(), MODEL).downweighted.height == 0


def test_the_location_is_that_of_the_student_t_likelihood() -> None:
    """At the optimum the scores w·residual sum to zero in each box; the scale is checked by its equation."""
    found = fit(spoiled(), MODEL, robust=Robust(degrees_of_freedom=5.0))
    left = residuals(found, spoiled()).with_columns(spoiled()["box"])
    scores = left.group_by("box").agg((pl.col("weight") * pl.col("residual")).sum())["weight"]
    squares = (left["weight"] * left["residual"] ** 2).sum()
    assert scores.to_list() == pytest.approx([0, 0], abs=1e-6)
    assert squares / (200 - found.edf) == pytest.approx(found.residual_scale**2, rel=1e-6)


def test_the_location_and_scale_of_one_sample_are_near_scipys_maximum_likelihood() -> None:
    """scipy divides by n, not by n - 1: hence the tolerance of one part in 400."""
    draws = stats.t.rvs(5, loc=5, scale=0.3, size=400, random_state=3)
    sample = pl.DataFrame({"log_price": draws, "half": np.arange(400) % 2})
    found = fit(
        sample,
        Specification("log_price", (Term("half", "linear", ("half",)),)),
        robust=Robust(degrees_of_freedom=5.0),
    )
    _, location, scale = stats.t.fit(draws, f0=5)
    middle = found.coefficients @ [1, 0.5]
    assert middle == pytest.approx(location, abs=0.005)
    assert found.residual_scale == pytest.approx(scale, rel=0.005)


def test_robust_errors_are_honest_on_heavy_tails() -> None:
    """Over 300 draws of t errors (4 df) the effect's spread is the error that the fit states, within a tenth."""
    random = np.random.default_rng(8)
    boxed = np.tile([0, 1], 60)
    found, stated = [], []
    for _ in range(300):
        prices = 5 + 0.2 * boxed + 0.2 * random.standard_t(4, 120)
        frame = pl.DataFrame({"box": np.where(boxed, "original", "none"), "log_price": prices})
        effect = fit(frame, MODEL, robust=Robust(degrees_of_freedom=4.0)).effects.filter(
            pl.col("level") == "original"
        )
        found.append(effect["effect"].item())
        stated.append(effect["error"].item())
    assert np.std(found) == pytest.approx(np.sqrt(np.mean(np.square(stated))), rel=0.1)
