"""Colourways that are given once for all silhouettes."""

import polars as pl
import pytest

from pipeline.config import Market, parse_market
from pipeline.errors import MarketFileError
from pipeline.ingest.names import read_colourways
from pipeline.ingest.titles import read_titles
from tests.unit.test_market_file import SMALLEST

TWO = """
[[colourways]]
name = "Kelp"
phrases = ["seaweed"]
[[silhouettes]]
name = "Gannet Hi"
maker = "Ostrel"
[[silhouettes]]
name = "Plover Lo"
maker = "Marrowick"
colourways = [{ name = "Kelp", phrases = ["tangle"] }, { name = "Slate" }]
"""


@pytest.fixture
def common() -> Market:
    """Return a market with one common colourway, of which one silhouette has its own."""
    return parse_market(SMALLEST + TWO, where="market.toml")


@pytest.mark.parametrize(
    ("title", "colourway"),
    [
        ("Gannet Hi seaweed", "Kelp"),
        ("Plover Lo tangle", "Kelp"),
        ("Gannet Hi tangle", None),
        ("Gannet Hi Slate", None),
        ("seaweed pair", "Kelp"),
    ],
)
def test_a_title_is_read_by_the_common_colourways(title: str, colourway: str | None, common: Market) -> None:
    assert read_titles(pl.Series([title]), common)["colourway"].to_list() == [colourway]


def test_a_column_is_read_by_the_common_colourways(common: Market) -> None:
    silhouettes, cells = pl.Series(["Gannet Hi", "Plover Lo"]), pl.Series(["seaweed", "seaweed"])
    assert read_colourways(silhouettes, cells, common).to_list() == ["Kelp", None]


def test_a_cell_without_a_silhouette_is_read_by_the_common_colourways(common: Market) -> None:
    silhouettes, cells = pl.Series([None, None], dtype=pl.String), pl.Series(["seaweed", "tangle"])
    assert read_colourways(silhouettes, cells, common).to_list() == ["Kelp", None]


def test_a_phrase_of_a_common_and_another_own_colourway_is_refused() -> None:
    clash = TWO.replace('"Slate"', '"Slate", phrases = ["foam"]') + '[[colourways]]\nname = "Foam"\n'
    with pytest.raises(MarketFileError, match=r"'Foam' stands for the colourway 'Slate' of 'Plover Lo'"):
        parse_market(SMALLEST + clash, where="market.toml")


def test_two_common_colourways_of_one_name_are_refused() -> None:
    with pytest.raises(MarketFileError, match="`colourways` holds the name 'Kelp' twice"):
        parse_market(SMALLEST + TWO + '[[colourways]]\nname = "KELP"\n', where="market.toml")


def test_a_market_that_was_read_can_be_read_again(common: Market) -> None:
    again = Market.model_validate(common.model_dump())
    assert again.silhouettes == common.silhouettes
