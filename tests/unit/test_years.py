"""Years and decades that titles and cells say, and the eras that they lie in."""

from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.config import Market
from pipeline.errors import PairError
from pipeline.ingest.titles import read_titles
from pipeline.ingest.years import years_of_cells, years_of_texts
from pipeline.ledger import open_ledger
from pipeline.market.subject import Description, understand
from tests.exports import ingest, write_lantern
from tests.kept import sales_of

NEVER = r"[^\s\S]"


def years_of(title: str) -> tuple[int | None, int | None]:
    """Return the first and the last year that a title says."""
    first, last = years_of_texts(pl.Series([title]), apart=NEVER, treatments="resoled").row(0)[1:]
    return first, last


def read_one(title: str, market: Market) -> dict[str, Any]:
    """Return the reading of one title."""
    return read_titles(pl.Series([title]), market).row(0, named=True)


@pytest.mark.parametrize(
    ("said", "first", "last"),
    [
        ("made in 1986", 1986, 1986),
        ("'86", 1986, 1986),
        ("’05", 2005, 2005),
        ("from 86", 1986, 1986),
        ("1980s", 1980, 1989),
        ("80s", 1980, 1989),
        ("mid 80's", 1984, 1986),
        ("late-80s", 1987, 1989),
        ("1985-86", 1985, 1986),
        ("1985 – 1987", 1985, 1987),
        ("1999/02", 1999, 2002),
        ("1986年製", 1986, 1986),
        ("80年代前半", 1980, 1983),
        ("Anfang der 90er", 1990, 1993),
        ("fin des années 80", 1987, 1989),
        ("metà anni '80", 1984, 1986),
        ("80s, made in 1986", 1986, 1986),
    ],
)
def test_a_year_or_a_decade_is_read(said: str, first: int, last: int) -> None:
    assert years_of(f"Gannet Hi {said}, Buoy Red") == (first, last)


@pytest.mark.parametrize(
    "said",
    [
        *(
            "£1986",
            "1986 EUR",
            "1,986",
            "from 86 euros",
            "from 42",
            "style no 1986",
            "ref. PL-1986",
            "1986 mm",
        ),
        *("sold in 2019", "bought new 1999", "resoled in 2021", "resoled by a friend (2021)", "March 2019"),
        *(
            "12/1986",
            "1986-03-12",
            "80s style",
            "based on the 1985 original",
            "since 1986",
            "2020年購入",
            "1849",
        ),
        *("1985 or 1993", "3.1986", "86", "gekauft 1999", "acquistate nel 2016", "vendu en 2018"),
    ],
)
def test_a_number_that_is_not_the_year_of_the_pair_says_nothing(said: str) -> None:
    assert years_of(f"Gannet Hi {said}, Buoy Red") == (None, None)


@pytest.mark.parametrize(
    ("cell", "first", "last"),
    [("86", 1986, 1986), ("85/86", 1985, 1986), ("ca. 1985", 1985, 1985), ("c. 86", 1986, 1986)],
)
def test_a_bare_number_in_a_column_of_eras_is_a_year(cell: str, first: int, last: int) -> None:
    assert years_of_cells(pl.Series([cell])).row(0)[1:] == (first, last)


@pytest.mark.parametrize("cell", ["", "-", "9", "lot 1986", "1986 or later run", "unknown"])
def test_a_cell_that_holds_more_than_years_says_none(cell: str) -> None:
    assert years_of_cells(pl.Series([cell])).row(0)[1:] == (None, None)


def test_a_year_within_one_era_is_that_era(market: Market) -> None:
    assert read_one("Gannet Hi 1986", market)["years_era"] == "first"


def test_years_of_two_eras_give_each_its_share(market: Market) -> None:
    read = read_one("Gannet Hi 1985-87", market)
    assert (read["years_era"], read["years_odds"]) == (None, "first=0.667,second=0.333")


def test_a_year_of_no_era_says_nothing(market: Market) -> None:
    read = read_one("Gannet Hi 1975", market)
    assert (read["years_era"], read["years_odds"]) == (None, None)


def test_the_year_that_a_re_issue_copies_is_not_its_own(market: Market) -> None:
    assert read_one("1985 retro Gannet Hi", market)["years_era"] is None


@pytest.mark.parametrize("word", ["Neuauflage", "replica", "復刻"])
def test_a_word_for_a_re_issue_that_the_market_file_lacks_rules_out_the_originals(
    word: str, market: Market
) -> None:
    assert read_one(f"Gannet Hi {word} 1985", market)["years_era"] is None


def test_a_number_in_a_name_is_no_year(market: Market) -> None:
    plover = market.silhouettes[1].model_copy(update={"name": "Plover 1986"})
    other = market.model_copy(update={"silhouettes": (plover,)})
    assert read_one("Marrowick Plover 1986 Kelp", other)["years_era"] is None


def test_titles_without_years_are_read(market: Market) -> None:
    assert read_titles(pl.Series([], dtype=pl.String), market)["years_era"].to_list() == []


def test_an_era_may_be_described_by_its_years(market: Market) -> None:
    assert understand(Description("Gannet Hi", era="1986"), market).era == "first"


def test_years_of_several_eras_are_refused_with_their_odds(market: Market) -> None:
    with pytest.raises(PairError, match=r'several eras.*\n.*--era-odds "first=0.5,second=0.5"'):
        understand(Description("Gannet Hi", era="1980s"), market)


def sale_of(title: str, market: Market, folder: Path) -> dict[str, Any]:
    """Return the sale of 2021 that an export's row becomes."""
    with open_ledger(folder / "ledger.duckdb", create=True) as ledger:
        ingest(
            ledger,
            market,
            [write_lantern(folder, f'7,TP-1,"{title}",2021-02-01,2021-03-04,,100,sold,UK 9,8,original')],
        )
        return sales_of(ledger).row(0, named=True)


@pytest.mark.parametrize(
    ("title", "era", "origin"),
    [
        ("Gannet Hi 1988", "second", "title"),
        ("Gannet Hi 1988 first run", "first", "title"),
        ("Gannet Hi 1988 label 03/85-06/85", "first", "inferred"),
        ("Gannet Hi 1980s", None, "unknown"),
        ("Gannet Hi 2022", None, "unknown"),
    ],
)
def test_phrases_go_before_a_stamp_and_a_stamp_before_years(
    title: str, era: str | None, origin: str, market: Market, tmp_path: Path
) -> None:
    sale = sale_of(title, market, tmp_path)
    assert (sale["era"], sale["era_origin"]) == (era, origin)


def test_years_of_several_eras_flag_the_record(market: Market, tmp_path: Path) -> None:
    sale = sale_of("Gannet Hi 1980s", market, tmp_path)
    assert (sale["flags"], sale["held_out"]) == (["years of several eras"], False)


def test_the_shares_of_several_eras_are_listed_with_the_title(market: Market, tmp_path: Path) -> None:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        row = "7,TP-1,Gannet Hi 1980s,2021-02-01,2021-03-04,,100,sold,UK 9,8,original"
        [file] = ingest(ledger, market, [write_lantern(tmp_path, row)]).files
    [reason] = file.reasons
    assert (reason.reason, reason.value) == (
        "its years lie in several eras: first=0.5,second=0.5",
        "Gannet Hi 1980s",
    )
