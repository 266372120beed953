"""Names in spite of a typing error, and the names that are offered where none is found."""

from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.config import Market
from pipeline.ingest.near_names import corrected_cells, likely_names, market_names, near_names
from pipeline.ingest.taken import Taken
from pipeline.ingest.titles import read_titles
from pipeline.ledger import Ledger, open_ledger
from tests.exports import ingest, write_lantern
from tests.kept import sales_of


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def without_fixing(market: Market) -> Market:
    """Return the market with `fix_typos` off."""
    return market.model_copy(update={"words": market.words.model_copy(update={"fix_typos": False})})


def near(text: str, market: Market) -> list[str]:
    """Return the names that a text is near to."""
    texts = pl.DataFrame({"id": [0], "tokens": [text]})
    return near_names(texts, market_names(market), known=set())["value"].to_list()


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("gnanet hi", "Gannet Hi"),
        ("ganett hi", "Gannet Hi"),
        ("gannethi", "Gannet Hi"),
        ("ostrle", "Ostrel"),
        ("marowik", "Marrowick"),
        ("slaet tide", "Slate Tide"),
    ],
)
def test_a_name_with_a_typing_slip_is_near(text: str, name: str, market: Market) -> None:
    assert near(text, market) == [name]


@pytest.mark.parametrize(
    "text", ["plover hi", "kelb", "ostara", "oserl", "state tide", "ostrels", "gannet", "", "plover 10"]
)
def test_what_may_be_another_name_is_not_near(text: str, market: Market) -> None:
    assert near(text, market) == []


def test_a_wrong_letter_in_a_short_name_is_near_in_a_cell_and_not_in_a_sentence(market: Market) -> None:
    names = market_names(market)
    assert near("ostrol", market) == []
    assert corrected_cells(pl.Series(["Ostrol"]), names).rows() == [("Ostrol", "Ostrel")]


def test_a_word_that_is_near_to_two_names_is_neither(market: Market) -> None:
    twin = market.silhouettes[0].model_copy(update={"name": "Gannat Hi", "phrases": (), "colourways": ()})
    both = market.model_copy(update={"silhouettes": (*market.silhouettes, twin)})
    assert near("gannot hi", both) == []


def test_without_names_nothing_is_near() -> None:
    names = pl.DataFrame(schema={"kind": pl.String, "value": pl.String, "phrase": pl.String})
    texts = pl.DataFrame({"id": [0], "tokens": ["gannet hi"]})
    assert near_names(texts, names, known=set()).height == 0


def test_a_cell_is_near_as_a_whole_only(market: Market) -> None:
    cells = pl.Series(["Ganet Hi", "Ganet Hi and more", None])
    assert corrected_cells(cells, market_names(market)).rows() == [("Ganet Hi", "Gannet Hi")]


def test_a_title_says_what_was_taken_for_a_name(market: Market) -> None:
    [taken] = read_titles(pl.Series(["Ostrel Ganet Hi"]), market)["taken"].to_list()
    assert taken == [{"field": "silhouette", "written": "ganet", "taken_as": "Gannet Hi"}]


def test_nothing_is_fixed_where_the_market_file_wants_none(market: Market) -> None:
    read = read_titles(pl.Series(["Ostrel Ganet Hi", "GannetHi"]), without_fixing(market))
    assert read["silhouette"].to_list() == [None, None]


def test_a_grade_word_with_another_sign_is_said(market: Market) -> None:
    [taken] = read_titles(pl.Series(["Ostrel Gannet Hi, good+"]), market)["taken"].to_list()
    assert taken == [{"field": "grade", "written": "good+", "taken_as": "7.5"}]


def test_the_likely_name_is_offered_with_its_count(market: Market) -> None:
    titles = pl.Series(
        "title", ["Gannet Mid red", "Gannet Mid red", "Plover Hi", "Gannet or Plover", "Heron", None]
    )
    expected = pl.DataFrame(
        {"written": ["gannet", "plover"], "likely": ["Gannet Hi", "Plover Lo"], "rows": [2, 1]},
    )
    assert_frame_equal(likely_names(titles.value_counts(name="row_count"), market), expected)


def test_without_titles_no_name_is_offered(market: Market) -> None:
    titles = pl.DataFrame(schema={"title": pl.String, "row_count": pl.Int64})
    assert likely_names(titles, market).height == 0


ROWS = (
    "1,,Ostrel Ganet Hi,2021-02-01,2021-03-04,,100,sold,UK 9,good+,original",
    "2,,Ostrel Ganet Hi,2021-02-01,2021-03-05,,110,sold,UK 9,8,original",
    "3,,Gannet Mid,2021-02-01,2021-03-06,,120,sold,UK 9,8,original",
)


def test_a_run_lists_what_it_took_for_other_words(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    [file] = ingest(ledger, market, [write_lantern(tmp_path, *ROWS)]).files
    assert file.taken == (
        Taken("silhouette", "ganet", "Gannet Hi", 2),
        Taken("grade", "good+", "7.5", 1),
    )


def test_a_run_says_what_it_took_and_leaves_what_it_offers_to_what_was_understood(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    [file] = ingest(ledger, market, [write_lantern(tmp_path, *ROWS)]).files
    assert file.notes == (
        "2 rows say silhouette 'ganet': read as Gannet Hi",
        "1 row says grade 'good+': read as 7.5",
    )


def test_an_offered_name_is_not_taken(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    ingest(ledger, market, [write_lantern(tmp_path, ROWS[2])])
    assert sales_of(ledger)["silhouette"].to_list() == [None]
