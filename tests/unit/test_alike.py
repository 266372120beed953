"""What two names that look alike are: one rule, wherever names, columns and words are compared."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.alike import find_alike, fold_all
from pipeline.answers.era_odds.answer import read_odds
from pipeline.config import Market, parse_market
from pipeline.errors import MapError
from pipeline.ingest.choice import map_of_lots
from pipeline.ingest.headers import find_header, missing_columns, resolve_column
from pipeline.ingest.names import read_names
from pipeline.market.subject import Description, understand
from pipeline.market_rules import refuse_alike

ALIKE = [
    ("Fjärd Hi", "Fja\u0308rd Hi"),
    ("Fjärd Hi", "fjard hi"),
    ("Fjard  Hi", "Fjard Hi"),
    ("Fjard\u00a0Hi", " Fjard Hi "),
    ("Fjard\u00adHi", "FjardHi"),
    ("Fjard–Hi", "Fjard-Hi"),
    ("Größe", "GRÖSSE"),
    ("Ｆｊａｒｄ", "Fjard"),
]
APART = [
    ("Fjard Hi", "Fjord Hi"),
    ("Fjard Hi", "FjardHi"),
    ("era \u0661", "era \u0662"),
    ("LS+", "LS"),
    ("8-", "8"),
]


@pytest.mark.parametrize(("one", "other"), ALIKE)
def test_names_that_look_alike_are_one(one: str, other: str) -> None:
    assert len(set(fold_all([one, other]))) == 1


@pytest.mark.parametrize(("one", "other"), APART)
def test_names_that_differ_in_a_letter_space_or_sign_are_two(one: str, other: str) -> None:
    assert len(set(fold_all([one, other]))) == 2


def test_the_very_name_goes_before_one_alike() -> None:
    assert find_alike("Slate", ["SLATE", "Slate"]) == "Slate"


def test_the_very_same_name_twice_is_one_name_twice() -> None:
    name = "Slate"
    with pytest.raises(ValueError, match=r"`parts` holds the name 'Slate' twice$"):
        refuse_alike({"parts": [name, name]})


def test_one_name_in_two_groups_is_no_fault() -> None:
    refuse_alike({"parts": ["Slate"], "defects": ["Slate"]})


def test_nothing_is_alike_in_an_empty_list() -> None:
    assert (find_alike("Slate", []), fold_all([])) == (None, [])


def test_an_empty_column_of_names_reads_as_nothing() -> None:
    assert read_names(pl.Series([], dtype=pl.String), {"slate": "Slate"}).height == 0


MARKET = """
base_currency = "EUR"
[[eras]]
name = "frühe"
run = "original"
first_year = 1984
[[silhouettes]]
name = "Fjärd Hi"
maker = "Ostrel"
colourways = [{ name = "Rosé" }]
[[venues]]
name = "Håkons Hus"
kind = "shop"
currency = "EUR"
[maps.hus]
venue = "Håkons Hus"
files = "größe_*.csv"
holds = "lots"
columns = { size_label = "Größe" }
"""


@pytest.fixture
def accented() -> Market:
    return parse_market(MARKET, where="market.toml")


def test_a_pair_is_described_without_the_accents_of_its_names(accented: Market) -> None:
    pair = understand(Description("fjard  hi", colourway="ROSE", era="fruhe", venue="hakons hus"), accented)

    assert (pair.silhouette, pair.colourway, pair.era, pair.venue) == (
        "Fjärd Hi",
        "Rosé",
        "frühe",
        "Håkons Hus",
    )


def test_era_odds_name_eras_without_their_accents(accented: Market) -> None:
    assert read_odds("FRUHE=1", accented) == {"frühe": 1.0}


def test_a_venue_is_found_without_its_accents(accented: Market) -> None:
    assert accented.venue("hakons hus").name == "Håkons Hus"


def test_a_map_is_found_in_any_case(accented: Market) -> None:
    assert accented.export_map("HUS").files == "größe_*.csv"


def test_a_file_name_whose_accents_are_signs_of_their_own_fits_its_pattern(accented: Market) -> None:
    assert map_of_lots(Path("gro\u0308ße_1.csv"), accented) == "hus"


def test_a_column_is_found_by_a_name_that_looks_alike() -> None:
    assert resolve_column(["Los", "GROSSE"], "Größe", where="a.csv") == "GROSSE"


def test_the_very_column_goes_before_one_alike() -> None:
    assert resolve_column(["prix", "Prix"], "Prix", where="a.csv") == "Prix"


def test_two_columns_that_a_map_may_mean_are_reported() -> None:
    with pytest.raises(MapError, match=r"a.csv has several columns that 'Prix' may mean: 'prix', 'PRIX'"):
        resolve_column(["prix", "PRIX"], "Prix", where="a.csv")


def test_a_header_is_found_by_names_that_look_alike() -> None:
    assert find_header([["title"], ["GROSSE", "Los"]], ["Größe"]) == 1


def test_a_column_that_is_missing_is_named_as_the_map_writes_it() -> None:
    assert missing_columns(["Los"], ["los", "Größe"]) == ["Größe"]
