"""The net gain of work: its average, range and chances, against draws from the same distributions.

Tolerances: three standard errors of the mean, share or quantile of 200,000 draws (fixed seed).
"""

from dataclasses import replace
from functools import cache

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray

from pipeline.answers.restoration.grade_gains import GradeGains, estimate_gains
from pipeline.answers.restoration.net_gain import LEVEL, OUTCOMES, bands_at_sale, error_together, weigh_work
from pipeline.answers.restoration.restoration import STEP
from pipeline.answers.restoration.work import Work
from pipeline.hedonic.predict import design_rows
from pipeline.market.bands import Values, value_pairs
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair
from sample_data import scenario
from tests.restorations import VALUED_ON, demo_market_fitted, resold

DRAWS = 200_000
PAIR = Pair(
    silhouette="Gannet Hi",
    colourway="Buoy Red",
    era="first",
    foot_mm=270,
    grade=6.0,
    defects=("yellowing",),
    treatments=(),
    venue=scenario.COUNTER,
)
WORK = Work(0, ("deep clean", "de-yellowing"), ("yellowing",), 4.5, 16.0)


def gains(*, spread: float = 0.5) -> GradeGains:
    return replace(estimate_gains(resold(), scenario.market()), spread=spread)


@cache
def subject() -> tuple[pl.DataFrame, Values]:
    factors = pair_factors((PAIR,), as_of=VALUED_ON)
    return factors, value_pairs(demo_market_fitted(), factors, (LEVEL,))


@cache
def weighed(work: Work = WORK) -> dict[str, float]:
    fitted = demo_market_fitted()
    rows = weigh_work(
        [work],
        *subject(),
        fitted.fit,
        gains(),
        scenario.market(),
        degrees_of_freedom=fitted.fit.degrees_of_freedom,
    )
    return rows.row(0, named=True)


@cache
def drawn() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return draws of the net gain, of what one sale brings over the value as it is and the cost, and of its price."""
    draws = np.random.Generator(np.random.PCG64(7))
    fit = demo_market_fitted().fit
    factors, values = subject()
    rows = np.stack([design_rows(fit, factors).toarray()[0], *(_change(step) for step in range(OUTCOMES))])
    spread = rows @ fit.covariance.dense() @ rows.T
    known = draws.multivariate_normal(rows @ fit.coefficients, spread, DRAWS, method="eigh")
    beyond = max(float(values.predictions["estimation_variance"][0]) - spread[0, 0], 0)
    level = known[:, 0] + np.sqrt(beyond) * draws.standard_normal(DRAWS)
    mean, error = gains().of(WORK.treatments)
    rise = mean + np.hypot(error, gains().spread) * draws.standard_normal(DRAWS)
    steps = np.clip(np.floor(rise / STEP + 0.5), 0, min((9.0 - 6.0) / STEP, OUTCOMES - 1)).astype(int)
    effect = np.take_along_axis(known[:, 1:], steps[:, None], axis=1)[:, 0]
    net = np.exp(level) * np.expm1(effect) - WORK.materials
    luck = values.scale[0] * draws.standard_t(fit.degrees_of_freedom, DRAWS)
    price = np.exp(level + effect + luck)
    return net, price - np.exp(level) - WORK.materials, price


def _change(step: int) -> NDArray[np.float64]:
    fit = demo_market_fitted().fit
    done = replace(PAIR, grade=6.0 + STEP * step, defects=(), treatments=WORK.treatments)
    start, end = (
        design_rows(fit, pair_factors((pair,), as_of=VALUED_ON)).toarray()[0] for pair in (PAIR, done)
    )
    change: NDArray[np.float64] = end - start
    return change


def test_the_average_gain_is_that_of_the_draws() -> None:
    net, _, _ = drawn()

    assert weighed()["gain"] == pytest.approx(net.mean(), abs=3 * net.std() / DRAWS**0.5)


@pytest.mark.parametrize(("end", "share"), [("low", 0.1), ("high", 0.9)])
def test_the_range_has_a_tenth_of_the_draws_on_either_side(end: str, share: float) -> None:
    net, _, _ = drawn()

    assert np.mean(net < weighed()[end]) == pytest.approx(share, abs=3 * (0.09 / DRAWS) ** 0.5)


def test_the_chance_of_loss_is_the_share_of_the_draws_below_zero() -> None:
    net, _, _ = drawn()

    assert weighed()["chance_of_loss"] == pytest.approx(np.mean(net < 0), abs=0.0035)


def test_the_chance_at_one_sale_is_the_share_of_the_draws_with_sale_luck() -> None:
    _, at_sale, _ = drawn()

    assert weighed()["chance_at_sale"] == pytest.approx(np.mean(at_sale < 0), abs=0.0035)


def test_a_tenth_of_the_draws_of_one_sale_lies_on_either_side_of_its_band() -> None:
    fitted = demo_market_fitted()
    [(low, high)] = bands_at_sale(
        [WORK],
        *subject(),
        fitted.fit,
        gains(),
        scenario.market(),
        degrees_of_freedom=fitted.fit.degrees_of_freedom,
    )
    _, _, price = drawn()

    assert (np.mean(price < low), np.mean(price > high)) == pytest.approx((0.1, 0.1), abs=0.004)


def test_no_work_has_no_band_of_a_sale() -> None:
    fitted = demo_market_fitted()
    assert bands_at_sale([], *subject(), fitted.fit, gains(), scenario.market(), degrees_of_freedom=5.0) == ()


def test_more_expensive_work_gains_that_much_less_and_loses_more_often() -> None:
    dear = weighed(replace(WORK, materials=66.0))

    assert dear["gain"] == pytest.approx(weighed()["gain"] - 50)
    assert dear["chance_of_loss"] > weighed()["chance_of_loss"]


def test_an_hour_costs_what_the_market_file_says() -> None:
    market = scenario.market()
    paid = market.model_copy(update={"workshop": market.workshop.model_copy(update={"hour_cost": 10})})
    fitted = demo_market_fitted()
    rows = weigh_work(
        [WORK], *subject(), fitted.fit, gains(), paid, degrees_of_freedom=fitted.fit.degrees_of_freedom
    )

    assert rows["cost"].to_list() == [16.0 + 45.0]


def test_a_pair_never_rises_above_the_grade_limit() -> None:
    fitted, near = demo_market_fitted(), replace(PAIR, grade=8.5)
    factors = pair_factors((near,), as_of=VALUED_ON)
    values = value_pairs(fitted, factors, (LEVEL,))
    rows = weigh_work(
        [WORK],
        factors,
        values,
        fitted.fit,
        gains(),
        scenario.market(),
        degrees_of_freedom=fitted.fit.degrees_of_freedom,
    )

    assert 8.5 < rows["grade_after"][0] <= 9.0


def test_no_work_is_an_empty_frame() -> None:
    fitted = demo_market_fitted()
    rows = weigh_work(
        [],
        *subject(),
        fitted.fit,
        gains(),
        scenario.market(),
        degrees_of_freedom=fitted.fit.degrees_of_freedom,
    )

    assert rows.height == 0


def test_the_error_of_one_work_is_that_of_its_draws() -> None:
    net, _, _ = drawn()
    error = error_together([WORK], *subject(), demo_market_fitted().fit, gains(), scenario.market())

    assert error == pytest.approx(
        net.std(), rel=0.1
    )  # first order in the coefficients; the grade's own error apart


def test_nothing_done_has_no_error() -> None:
    assert error_together([], *subject(), demo_market_fitted().fit, gains(), scenario.market()) == 0.0
