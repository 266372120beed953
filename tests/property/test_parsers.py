"""Parsers of any column: round trips, order of rows, and texts that mean harm."""

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from time import perf_counter

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from pipeline.config import load_market
from pipeline.ingest.dates import read_dates
from pipeline.ingest.grades import read_grades
from pipeline.ingest.numbers import read_amounts
from pipeline.ingest.sizes import foot_mm, read_sizes
from pipeline.ingest.stamps import read_stamps
from pipeline.ingest.titles import read_titles
from pipeline.schema import FOOT_MM_RANGE, SIZE_SYSTEMS

MARKET = load_market(Path(__file__).parents[1] / "market.toml")
AS_OF = date(2024, 6, 1)
DAYS = st.integers(0, 40_000).map(lambda days: date(1969, 1, 1) + timedelta(days % 36_000))
TEXTS = st.lists(st.text(max_size=40), max_size=8)
WORDS = st.sampled_from(
    [
        *("no", "not", "never", "box", "tags", "original", "loose", "deep", "cleaned", "needs", "reglue"),
        *("or", "and", ",", ".", "?", "UK", "9", "8/10", "first", "run", "Gannet", "Hi"),
    ]
)
TITLES = st.lists(WORDS, max_size=14).map(" ".join)

READERS = {
    "amounts": lambda texts: read_amounts(texts, decimal_mark="."),
    "days": lambda texts: read_dates(texts, order="dmy"),
    "sizes": lambda texts: read_sizes(texts, system="UK"),
    "grades": lambda texts: read_grades(texts, {"good": 7.0}),
    "stamps": lambda texts: read_stamps(texts, as_of=AS_OF),
    "titles": lambda texts: read_titles(texts, MARKET),
}


def grouped(cents: int, group: str, mark: str) -> str:
    """Write an amount with a group separator and a decimal mark."""
    return f"{cents / 100:,.2f}".replace(",", "_").replace(".", mark).replace("_", group)


@given(
    st.lists(st.integers(0, 10**11), min_size=1),
    st.sampled_from([(".", ","), (",", "."), ("'", "."), (" ", ",")]),
)
def test_an_amount_written_in_groups_comes_back(cents: list[int], marks: tuple[str, str]) -> None:
    group, mark = marks
    texts = pl.Series([grouped(amount, group, mark) for amount in cents])
    read = read_amounts(texts, decimal_mark="," if mark == "," else ".")
    assert read["amount"].to_list() == [Decimal(amount) / 100 for amount in dict.fromkeys(cents)]


@given(
    st.lists(DAYS, min_size=1),
    st.sampled_from(["%d.%m.%Y", "%d/%m/%y", "%Y-%m-%dT12:00:00Z", "%d %B %Y", "%b %d, %Y"]),
)
def test_a_day_comes_back_from_every_way_of_writing_it(days: list[date], form: str) -> None:
    known = [day for day in days if 1969 <= day.year <= 2068] or [date(2020, 2, 29)]
    read = read_dates(pl.Series([day.strftime(form) for day in known]), order="dmy")
    assert read["day"].to_list() == list(dict.fromkeys(known))


@given(st.sampled_from(SIZE_SYSTEMS), st.floats(1, 60), st.floats(0.01, 10))
def test_a_larger_size_is_a_longer_foot(system: str, number: float, more: float) -> None:
    assert foot_mm(system, number + more) > foot_mm(system, number)


@given(st.sampled_from(["UK", "EU", "US men", "JP"]), st.lists(st.integers(2, 120), min_size=1))
def test_labels_in_rising_order_are_lengths_in_rising_order(system: str, halves: list[int]) -> None:
    sizes = sorted({half / 2 for half in halves})
    read = read_sizes(pl.Series([f"{size:g}" for size in sizes]), system=system)
    lengths = read["foot_mm"].drop_nulls()
    assert lengths.is_sorted()
    assert lengths.is_between(*FOOT_MM_RANGE).all()


@pytest.mark.parametrize("reader", READERS)
@settings(max_examples=25)
@given(texts=TEXTS)
def test_every_distinct_text_has_one_row_whatever_it_holds(reader: str, texts: list[str]) -> None:
    read = READERS[reader](pl.Series(texts, dtype=pl.String))
    assert read.to_series(0).to_list() == list(dict.fromkeys(texts))


@pytest.mark.parametrize("reader", READERS)
@settings(max_examples=15)
@given(titles=st.lists(TITLES, min_size=2, max_size=6, unique=True))
def test_a_text_is_read_alike_in_any_company(reader: str, titles: list[str]) -> None:
    together = READERS[reader](pl.Series(titles[::-1]))
    alone = pl.concat([READERS[reader](pl.Series([title])) for title in titles[::-1]])
    assert_frame_equal(together, alone)


@pytest.mark.parametrize(
    "piece",
    [
        "no ",
        "no box or ",
        "(",
        "UK 9 / ",
        "1/",
        "8/10 ",
        "03/85-",
        "Mar 85 - ",
        "<",
        "½",
        "\x00",
        "é",
        ",",
        "Gannet Hi ",
    ],
)
def test_a_title_without_end_is_read_at_once(piece: str) -> None:
    title = (piece * 10_000)[:10_000]
    read_titles(pl.Series(["warm"]), MARKET)
    started = perf_counter()
    assert read_titles(pl.Series([title]), MARKET).height == 1
    assert perf_counter() - started < 5
