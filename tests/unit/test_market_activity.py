"""Sold, unsold, sell-through and days on market."""

from datetime import date

import polars as pl
import pytest

from pipeline.answers.market_view.activity import Activity, activity_of

SPRING, SUMMER = date(2024, 4, 1), date(2024, 7, 1)
SCHEMA = {
    "quarter": pl.Date,
    "venue": pl.String,
    "sold": pl.Int64,
    "unsold": pl.Int64,
    "withdrawn": pl.Int64,
    "timed": pl.Int64,
    "days_to_sale": pl.Float64,
    "turnover": pl.Float64,
}


def quarter(
    when: date, venue: str, sold: int, unsold: int, *, withdrawn: int = 0, timed: int = 0
) -> tuple[object, ...]:
    return (when, venue, sold, unsold, withdrawn, timed, 21.0 if timed else None, 100.0 * sold)


def activity(*rows: tuple[object, ...]) -> tuple[Activity, ...]:
    return activity_of(pl.DataFrame(rows, schema=SCHEMA, orient="row"))


def test_sell_through_is_what_sold_of_what_ended() -> None:
    assert activity(quarter(SPRING, "Holm", 30, 10))[0].sell_through == pytest.approx(0.75)


def test_a_withdrawn_lot_is_no_failure_to_sell() -> None:
    assert activity(quarter(SPRING, "Holm", 3, 1, withdrawn=6))[0].sell_through == pytest.approx(0.75)


def test_a_venue_that_lists_its_sales_only_has_no_sell_through() -> None:
    assert activity(quarter(SPRING, "Holm", 30, 0))[0].sell_through is None


def test_a_quarter_in_which_all_sold_counts_where_the_venue_tells_of_unsold_lots() -> None:
    found = activity(quarter(SPRING, "Holm", 30, 0), quarter(SUMMER, "Holm", 20, 20))
    assert found[0].sell_through == pytest.approx(1.0)


def test_a_quarter_with_nothing_but_withdrawn_lots_has_no_sell_through() -> None:
    found = activity(quarter(SPRING, "Holm", 0, 0, withdrawn=2), quarter(SUMMER, "Holm", 1, 1))
    assert found[0].sell_through is None


def test_days_on_market_need_five_sales_whose_first_day_is_known() -> None:
    found = activity(quarter(SPRING, "Lantern", 9, 1, timed=4), quarter(SUMMER, "Lantern", 9, 1, timed=5))
    assert [row.days for row in found] == [None, 21.0]


def test_a_market_without_offers_has_no_activity() -> None:
    assert activity() == ()
