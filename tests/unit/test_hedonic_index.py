"""The hedonic index by months, within groups, and what the repeat-sales index refuses."""

from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.errors import FitError, UnknownName
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.index import period_index
from pipeline.hedonic.repeat_sales import repeat_sales_index
from pipeline.hedonic.specification import Specification, Term

MODEL = Specification(
    "log_price",
    (
        Term("family", "level", ("family",)),
        Term("month", "walk", ("month",)),
        Term("month of family", "walk", ("month", "family")),
    ),
)


@cache
def sales() -> pl.DataFrame:
    """Return sales of two families: courts rise by 2 % a month, runners stand still; month 4 has none."""
    random = np.random.default_rng(2)
    month = random.choice([0, 1, 2, 3, 5, 6, 7, 8, 9], 900)
    court = random.integers(0, 2, 900)
    log_price = 5 + 0.3 * court + 0.02 * court * month + random.normal(0, 0.05, 900)
    family = np.where(court, "court", "runner")
    return pl.DataFrame({"family": family, "month": month, "log_price": log_price})


@cache
def fitted() -> Fit:
    return fit(sales(), MODEL)


def index_of(family: str) -> pl.DataFrame:
    terms = ("month", "month of family")
    return period_index(fitted(), terms, range(10), base=0, within={"family": family})


def test_the_index_of_each_family_follows_its_own_market() -> None:
    assert index_of("court")["index"][9] == pytest.approx(100 * np.exp(0.18), rel=0.03)
    assert index_of("runner")["index"][9] == pytest.approx(100, rel=0.03)


def test_the_index_is_certain_at_its_base() -> None:
    first = index_of("court").row(0, named=True)
    assert (first["index"], first["low"], first["high"]) == pytest.approx((100, 100, 100))
    assert first["error"] == pytest.approx(0, abs=1e-9)


def test_a_month_without_sales_has_an_index_but_no_records() -> None:
    empty = index_of("court").row(4, named=True)
    assert empty["records"] == 0
    assert empty["low"] < empty["index"] < empty["high"]


def test_the_error_of_a_month_is_that_of_the_difference_to_the_base() -> None:
    found = period_index(fitted(), ("month",), [3], base=9)
    known = fitted().effects.filter((pl.col("term") == "month") & (pl.col("level") == "3"))
    assert found["error"].item() == pytest.approx(known["error"].item())


def test_an_index_within_families_needs_a_family() -> None:
    with pytest.raises(FitError, match="runs within 'family', but no value of it was given"):
        period_index(fitted(), ("month of family",), [0], base=0)


def test_an_unknown_term_is_named() -> None:
    with pytest.raises(UnknownName, match="no term is called 'months'"):
        period_index(fitted(), ("months",), [0], base=0)


def test_nothing_sold_twice_is_refused() -> None:
    none = pl.DataFrame(schema={"start": pl.Int64, "end": pl.Int64, "log_ratio": pl.Float64})
    with pytest.raises(FitError, match="no pair was sold twice"):
        repeat_sales_index(none)


def test_periods_that_no_resale_joins_are_named() -> None:
    apart = pl.DataFrame({"start": [1, 7], "end": [2, 8], "log_ratio": [0.1, 0.1]})
    with pytest.raises(FitError, match=r"joins 2 of 4 periods to the first \(1\); the first of them is 7"):
        repeat_sales_index(apart)


def test_resales_without_error_weigh_all_alike() -> None:
    exact = pl.DataFrame({"start": [1, 2, 1], "end": [2, 3, 3], "log_ratio": [0.1, 0.2, 0.3]})
    found = repeat_sales_index(exact, weighting="case-shiller")
    assert found.index["effect"].to_list() == pytest.approx([0, 0.1, 0.3])
