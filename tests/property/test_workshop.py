"""The integer programme finds what trying everything finds."""

from itertools import product

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.answers.restoration.workshop import HOUR, SHOWS, Addition, best_plan

WORK = st.tuples(
    st.integers(-40, 200),  # gain
    st.sampled_from([0.0, 0.5, 1.0, 1.5, 2.0, 3.5, 5.0]),  # hours
    st.integers(0, 60),  # materials
)
STOCK = st.lists(st.lists(WORK, min_size=1, max_size=4), min_size=1, max_size=5)


def works_of(stock: list[list[tuple[int, float, int]]]) -> pl.DataFrame:
    return pl.DataFrame(
        [(pair, float(work[0]), work[1], float(work[2])) for pair, own in enumerate(stock) for work in own],
        schema={"pair": pl.Int64, "gain": pl.Float64, "hours": pl.Float64, "materials": pl.Float64},
        orient="row",
    )


def best_by_trying(stock: list[list[tuple[int, float, int]]], hours: float, money: float) -> float:
    choices = product(*([(0, 0.0, 0), *own] for own in stock))
    return max(
        sum(work[0] for work in chosen)
        for chosen in choices
        if sum(work[1] for work in chosen) <= hours and sum(work[2] for work in chosen) <= money
    )


@settings(max_examples=40)
@given(stock=STOCK, hours=st.sampled_from([0.0, 1.5, 4.0, 7.5, 20.0]), money=st.integers(0, 150))
def test_the_plan_gains_what_trying_every_plan_gains(
    stock: list[list[tuple[int, float, int]]], hours: float, money: int
) -> None:
    plan = best_plan(works_of(stock), hours=hours, money=money)

    assert plan.gain == pytest.approx(best_by_trying(stock, hours, money))


@settings(max_examples=40)
@given(stock=STOCK, hours=st.sampled_from([1.5, 4.0, 7.5]), money=st.integers(0, 150))
def test_the_plan_keeps_to_the_hours_the_money_and_one_work_a_pair(
    stock: list[list[tuple[int, float, int]]], hours: float, money: int
) -> None:
    works = works_of(stock)
    plan = best_plan(works, hours=hours, money=money)
    chosen = works[list(plan.chosen)]

    assert chosen["pair"].is_unique().all()
    assert chosen["hours"].sum() <= hours
    assert chosen["materials"].sum() <= money


@settings(max_examples=40)
@given(stock=STOCK, hours=st.sampled_from([1.5, 4.0, 7.5]), money=st.integers(0, 150))
def test_the_next_hours_add_what_trying_every_plan_adds(
    stock: list[list[tuple[int, float, int]]], hours: float, money: int
) -> None:
    plan = best_plan(works_of(stock), hours=hours, money=money)
    more = plan.more_hours or Addition(100.0, 0.0)
    gain = best_by_trying(stock, hours + more.more, money) - plan.gain

    assert gain == pytest.approx(more.gain, abs=SHOWS * plan.gain + 1e-6)


@settings(max_examples=40)
@given(stock=STOCK, hours=st.sampled_from([1.5, 4.0, 7.5]), money=st.integers(0, 150))
def test_no_fewer_hours_would_add_as_much(
    stock: list[list[tuple[int, float, int]]], hours: float, money: int
) -> None:
    plan = best_plan(works_of(stock), hours=hours, money=money)
    fewer = plan.more_hours.more - HOUR if plan.more_hours else 100.0

    assert best_by_trying(stock, hours + fewer, money) <= plan.gain * (1 + SHOWS) + 1e-6
