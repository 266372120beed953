"""A curve that should rise is held to it, unless the records say otherwise."""

from math import sqrt

import numpy as np
import polars as pl
import pytest
from scipy.optimize import minimize

from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.shape import hold_rising, levels_alike
from pipeline.hedonic.specification import Specification, Term

TERMS = (Term("grade", "curve", ("grade",), "3"), Term("box", "level", ("box",)))


def fitted(truth: list[float], *, rows: int, noise: float, seed: int) -> Fit:
    draws = np.random.default_rng(seed)
    grade = draws.integers(0, len(truth), rows)
    box = draws.integers(0, 2, rows)
    price = np.array(truth)[grade] + 0.1 * box + noise * draws.standard_normal(rows)
    sales = pl.DataFrame({"grade": grade + 1, "box": pl.Series(box).cast(pl.String), "log_price": price})
    return fit(sales, Specification("log_price", TERMS))


def effects(held: Fit) -> np.ndarray:
    return held.effects.filter(pl.col("term") == "grade")["effect"].to_numpy()


FLAT = [0.0, 0.5, 0.5, 0.5, 1.0, 1.0, 1.0]


def test_effects_do_not_fall() -> None:
    free = fitted(FLAT, rows=400, noise=0.2, seed=4)
    assert np.diff(effects(free)).min() < 0

    assert np.diff(effects(hold_rising(free, "grade"))).min() > -1e-9


def test_the_held_estimate_is_the_nearest_rising_one() -> None:
    free = fitted(FLAT, rows=400, noise=0.2, seed=4)
    held = hold_rising(free, "grade")
    metric = np.linalg.inv(free.covariance.dense())
    padded = np.array([*free.layout.positions])
    start = free.design.factors[0].start
    places = padded[start : start + 7]

    def rises(values: np.ndarray) -> np.ndarray:
        return np.diff(np.append(values, 0.0)[places])

    found = minimize(
        lambda values: (values - free.coefficients) @ metric @ (values - free.coefficients),
        held.coefficients + 0.01,
        jac=lambda values: 2 * metric @ (values - free.coefficients),
        constraints={"type": "ineq", "fun": rises},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 500},
    )

    assert held.coefficients == pytest.approx(found.x, abs=1e-5)


def test_a_curve_that_rises_is_left_as_it_is() -> None:
    free = fitted([0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.2], rows=400, noise=0.1, seed=1)

    assert hold_rising(free, "grade") is free


def test_a_fall_that_the_records_show_is_left() -> None:
    free = fitted([0.0, 0.2, 0.4, 0.0, 0.4, 0.6, 0.8], rows=800, noise=0.1, seed=2)

    assert np.diff(effects(hold_rising(free, "grade")))[2] < -0.2


def test_levels_held_alike_are_named_and_less_uncertain_apart() -> None:
    free = fitted(FLAT, rows=400, noise=0.2, seed=4)
    held = hold_rising(free, "grade")
    alike = levels_alike(held, "grade")

    assert alike
    assert not levels_alike(free, "grade")
    assert sqrt(held.covariance.diagonal().sum()) < sqrt(free.covariance.diagonal().sum())


def own_named(*terms: Term, bend: float = 0.0) -> Fit:
    """Return a fit to sales of two eras whose prices do not rise with the grade, in the second with a bend."""
    draws = np.random.default_rng(4)
    grade, era = draws.integers(1, 8, 400), draws.integers(0, 2, 400)
    price = 0.3 * era - 0.01 * grade - bend * era * np.abs(grade - 4) + 0.2 * draws.standard_normal(400)
    sales = pl.DataFrame({"grade": grade, "era": pl.Series(era).cast(pl.String), "log_price": price})
    return fit(sales, Specification("log_price", terms))


def test_a_curve_is_found_by_its_column_whatever_its_term_is_called() -> None:
    free = own_named(Term("condition", "curve", ("grade",)))

    assert levels_alike(hold_rising(free, "grade"), "grade")


def test_a_curve_in_each_era_is_held_in_each() -> None:
    free = own_named(Term("era", "level", ("era",)), Term("condition in era", "curve", ("grade", "era")))
    alike = levels_alike(hold_rising(free, "grade"), "grade")

    assert {lower.split(" × ")[1] for lower, _ in alike} == {"0", "1"}


def test_beside_a_curve_of_its_own_a_curve_in_each_era_is_free() -> None:
    alone = Term("condition", "curve", ("grade",))
    era, apart = Term("era", "level", ("era",)), Term("in era", "curve", ("grade", "era"))
    free = own_named(alone, era, apart, bend=0.3)
    held = hold_rising(free, "grade").effects.filter(pl.col("term") == "in era")

    assert np.diff(held.filter(pl.col("level").str.ends_with("1"))["effect"].to_numpy()).min() < -1e-3


def test_a_fit_without_the_term_is_left_as_it_is() -> None:
    free = fitted(FLAT, rows=60, noise=0.4, seed=4)

    assert hold_rising(free, "size") is free
    assert levels_alike(free, "size") == ()
