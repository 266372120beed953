"""The index by month and what it did of late."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.market_view.index import changes, month_index
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.specification import Specification, Term

START = 12 * 2021 + 3
MONTHS = 30


@cache
def fitted(walks: bool = True) -> Fit:
    """Return a fit to sales from April 2021 to September 2023, rising by 1 % a month."""
    random = np.random.default_rng(4)
    month = np.concatenate([np.arange(MONTHS), random.integers(0, MONTHS, 1000)])
    venue = random.choice(["Holm", "Lantern"], len(month))
    log_price = 5 + 0.01 * month + random.normal(0, 0.1, len(month))
    sales = pl.DataFrame({"month": START + month, "venue": venue, "log_price": log_price})
    terms = [Term("venue", "pooled", ("venue",))] + [Term("market", "walk", ("month",))] * walks
    return fit(sales, Specification("log_price", tuple(terms)))


def test_the_index_has_a_point_a_month_up_to_the_day() -> None:
    base, points = month_index(fitted(), as_of=date(2023, 9, 30), base=None)
    assert base == date(2021, 4, 1)
    assert (len(points), points[0].period, points[-1].period) == (30, date(2021, 4, 1), date(2023, 9, 1))


def test_the_index_is_100_and_certain_at_its_base() -> None:
    points = month_index(fitted(), as_of=date(2023, 9, 30), base=date(2022, 1, 1))[1]
    january = next(point for point in points if point.period == date(2022, 1, 1))
    assert (january.low, january.index, january.high) == pytest.approx((100, 100, 100))


def test_a_base_before_the_records_is_moved_to_their_first_month() -> None:
    assert month_index(fitted(), as_of=date(2023, 9, 30), base=date(2019, 1, 1))[0] == date(2021, 4, 1)


def test_after_the_last_sale_the_index_stands_and_its_band_widens() -> None:
    points = month_index(fitted(), as_of=date(2024, 3, 1), base=None)[1]
    last, later = points[MONTHS - 1], points[-1]
    assert later.index == pytest.approx(last.index)
    assert later.high - later.low > last.high - last.low
    assert later.sales == 0


def test_a_day_before_the_records_has_no_index() -> None:
    assert month_index(fitted(), as_of=date(2020, 1, 1), base=None) == (None, ())


def test_the_changes_reach_as_far_as_the_records() -> None:
    assert [change.months for change in changes(fitted(), as_of=date(2023, 9, 30))] == [3, 12, 29]


def test_a_year_of_one_per_cent_a_month_is_told() -> None:
    year = changes(fitted(), as_of=date(2023, 9, 30))[1]
    assert year.low < np.exp(0.12) < year.high


def test_changes_end_in_the_last_month_with_sales() -> None:
    assert changes(fitted(), as_of=date(2024, 6, 1))[0].until == date(2023, 9, 1)


def test_changes_up_to_an_earlier_day_end_in_its_month() -> None:
    assert changes(fitted(), as_of=date(2022, 9, 15))[0].until == date(2022, 9, 1)


def test_a_model_without_a_walk_has_no_index() -> None:
    assert month_index(fitted(walks=False), as_of=date(2023, 9, 30), base=None) == (None, ())
    assert changes(fitted(walks=False), as_of=date(2023, 9, 30)) == ()


def still(count: int) -> Fit:
    """Return a fit to so many sales of a market that stands still."""
    random = np.random.default_rng(6)
    month = random.integers(0, 12, count)
    sales = pl.DataFrame({"month": START + month, "log_price": 5 + random.normal(0, 0.1, count)})
    found = fit(sales, Specification("log_price", (Term("market", "walk", ("month",)),)))
    return replace(found, sigma2=1e-12)


def test_a_few_sales_that_show_no_move_are_no_index() -> None:
    assert month_index(still(200), as_of=date(2022, 3, 1), base=None) == (None, ())


def test_many_sales_that_show_no_move_are_a_market_that_stands_still() -> None:
    assert len(month_index(still(600), as_of=date(2022, 3, 1), base=None)[1]) == 12


def test_fewer_sales_than_sixty_are_no_index() -> None:
    assert changes(still(59), as_of=date(2022, 3, 1)) == ()
