"""Production stamps of the inside label."""

from datetime import date

import polars as pl
import pytest

from pipeline.config import Era, Market
from pipeline.ingest.stamps import era_of_year, eras_of_years, read_stamps
from pipeline.schema import FLAGS

AS_OF = date(2024, 6, 1)


def read_one(text: str, as_of: date = AS_OF) -> dict[str, object]:
    """Return the reading of one stamp."""
    return read_stamps(pl.Series([text]), as_of=as_of).row(0, named=True)


@pytest.mark.parametrize(
    "text",
    [
        "03/85-06/85 KX2",
        "KX2 03/85-06/85",
        "03/1985 – 06/1985 KX2",
        "03.85-06.85 KX2",
        "0385 0685 KX2",
        "0385-0685 KX2",
        "8503 8506 KX2",
        "85 03 – 85 06 KX2",
        "03 85 - 06 85 KX2",
        "Mar 85 - Jun 85 / KX2",
        "March '85 - June '85 kx2",
        "label: 03/85 - 06/85 (KX2)",
    ],
)
def test_a_stamp_is_a_window_of_months_and_a_factory_code(text: str) -> None:
    stamp = read_one(text)
    assert (stamp["stamp_from"], stamp["stamp_to"]) == (date(1985, 3, 1), date(1985, 6, 1))
    assert (stamp["factory_code"], stamp["production_year"], stamp["flag"]) == ("KX2", 1985, None)


def test_a_single_month_is_the_whole_window() -> None:
    stamp = read_one("03/85")
    assert stamp["stamp_from"] == stamp["stamp_to"] == date(1985, 3, 1)
    assert stamp["factory_code"] is None


def test_the_year_is_the_one_in_which_the_window_ends() -> None:
    assert read_one("12/87-03/88 MW7")["production_year"] == 1988


def test_a_window_that_runs_backwards_is_flagged_and_has_no_year() -> None:
    stamp = read_one("06/85-03/85 KX2")
    assert (stamp["flag"], stamp["production_year"]) == ("stamp runs backwards", None)


def test_a_stamp_of_a_year_to_come_is_flagged() -> None:
    assert read_one("03/30-06/30 KX2")["flag"] == "stamp in the future"


@pytest.mark.parametrize(("as_of", "year"), [(date(2024, 6, 1), 2030), (date(2010, 6, 1), 1930)])
def test_a_year_of_two_digits_lies_at_most_ten_years_ahead(as_of: date, year: int) -> None:
    assert read_one("03/30", as_of)["stamp_to"] == date(year, 3, 1)


@pytest.mark.parametrize("text", ["smudged", "13/85-14/85", "KX2", "0305", "03/85-06/85 KX2 and more", "85"])
def test_a_stamp_that_cannot_be_read_is_flagged(text: str) -> None:
    stamp = read_one(text)
    assert (stamp["flag"], stamp["stamp_to"], stamp["factory_code"]) == ("stamp unreadable", None, None)


@pytest.mark.parametrize(
    ("text", "start"), [("0305 0605 KX2", date(2005, 3, 1)), ("03 12 – 04 03", date(2003, 12, 1))]
)
def test_a_short_window_tells_month_from_year(text: str, start: date) -> None:
    assert read_one(text)["stamp_from"] == start


@pytest.mark.parametrize("text", ["", "-", "n/a", "no stamp"])
def test_an_empty_cell_is_no_fault(text: str) -> None:
    assert read_one(text)["flag"] is None


def test_every_flag_is_one_of_the_schema() -> None:
    read = read_stamps(pl.Series(["x", "06/85-03/85", "03/30", "03/85"]), as_of=AS_OF)
    assert set(read["flag"].drop_nulls()) <= set(FLAGS)


def test_no_stamps_give_no_rows() -> None:
    assert read_stamps(pl.Series([], dtype=pl.String), as_of=AS_OF).is_empty()


@pytest.mark.parametrize(
    ("year", "era"),
    [(1983, None), (1984, "first"), (1986, "first"), (1992, None), (2020, "reissue"), (None, None)],
)
def test_a_year_belongs_to_the_era_that_holds_it(market: Market, year: int | None, era: str | None) -> None:
    assert era_of_year(year, market.eras) == era


def test_a_year_of_two_eras_belongs_to_neither() -> None:
    eras = [
        Era(name="a", run="original", first_year=1984, last_year=1987),
        Era(name="b", run="original", first_year=1987),
    ]
    assert [era_of_year(year, eras) for year in (1986, 1987, 1988)] == ["a", None, "b"]


def test_a_column_of_years_is_placed_like_its_single_years(market: Market) -> None:
    years = pl.Series([1985, None, 1992, 2001, 1985], dtype=pl.Int32)
    assert eras_of_years(years, market.eras).to_list() == ["first", None, None, "reissue", "first"]
