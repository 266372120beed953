"""The best work in the hours and money available, by hand."""

import polars as pl
import pytest

from pipeline.answers.restoration.workshop import Addition, best_plan

WORKS = pl.DataFrame(
    {
        "pair": [0, 0, 1, 2],
        "gain": [50.0, 80.0, 45.0, -5.0],
        "hours": [2.0, 5.0, 3.0, 0.0],
        "materials": [6.0, 60.0, 12.0, 0.0],
    }
)


def test_with_enough_hours_and_money_each_pair_gets_its_best_work() -> None:
    plan = best_plan(WORKS, hours=100, money=1000)

    assert (plan.chosen, plan.gain) == ((1, 2), 125.0)


def test_two_small_works_may_gain_more_than_a_big_one() -> None:
    plan = best_plan(WORKS, hours=5, money=1000)

    assert (plan.chosen, plan.gain, plan.hours, plan.money) == ((0, 2), 95.0, 5.0, 18.0)


def test_materials_cost_no_more_than_the_money_given() -> None:
    assert best_plan(WORKS, hours=100, money=60).chosen == (0, 2)


def test_work_that_does_not_pay_is_left_alone() -> None:
    assert best_plan(WORKS[3:], hours=100, money=100).chosen == ()


def test_the_next_gain_is_told_with_the_hours_that_it_takes() -> None:
    # in three hours the first work of pair 0; two more, and pair 1 is worked on as well
    plan = best_plan(WORKS, hours=3, money=1000)

    assert (plan.gain, plan.more_hours) == (50.0, Addition(2.0, 45.0))


def test_the_next_gain_is_told_with_the_money_that_it_takes() -> None:
    plan = best_plan(WORKS, hours=100, money=60)

    assert (plan.gain, plan.more_money) == (95.0, Addition(12.0, 30.0))


def test_money_that_is_not_short_is_worth_nothing_more() -> None:
    assert best_plan(WORKS, hours=100, money=1000).more_money is None


@pytest.mark.parametrize(("hours", "money"), [(0, 100), (100, 0)])
def test_without_hours_or_money_nothing_is_done(hours: float, money: float) -> None:
    assert best_plan(WORKS, hours=hours, money=money).gain == 0.0


def test_an_empty_stock_has_an_empty_plan() -> None:
    assert best_plan(WORKS.clear(), hours=10, money=10).chosen == ()
