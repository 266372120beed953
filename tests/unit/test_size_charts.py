"""Makers whose labels say a size of their own, and systems that are not known."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.config import Market, parse_market
from pipeline.errors import MarketFileError
from pipeline.ingest.size_charts import size_charts
from pipeline.ingest.sizes import read_sizes
from pipeline.ledger import open_ledger
from pipeline.market.subject import Description, understand
from tests.exports import ingest, write_lantern
from tests.kept import sales_of
from tests.unit.test_market_file import SMALLEST

OSTREL = """
[[silhouettes]]
name = "Gannet Hi"
maker = "Ostrel"
[[makers]]
name = "Ostrel"
sizes = [{rows}]
"""
RISING = '{ "US men" = 9, JP = 27, EU = 42.5 }, { "US men" = 10, JP = 28, EU = 44, foot_mm = 272 }'


def market_of(rows: str) -> Market:
    """Return a market with one maker's chart."""
    return parse_market(SMALLEST + OSTREL.replace("{rows}", rows), where="market.toml")


def foot(label: str, rows: str = RISING) -> int | None:
    """Return the foot length of a label of the maker."""
    chart = size_charts(market_of(rows))["Ostrel"]
    length: int | None = read_sizes(pl.Series([label]), system=None, chart=chart)["foot_mm"][0]
    return length


@pytest.mark.parametrize(
    ("label", "length"),
    [
        ("28 cm", 272),
        ("280 mm", 272),
        ("US 10", 272),
        ("EU 44", 272),
        ("US 9", 262),
        ("US 9.5", 267),
        ("US 10 / 28 cm", 272),
    ],
)
def test_a_label_within_a_makers_chart_has_the_foot_of_the_chart(label: str, length: int) -> None:
    assert foot(label) == length


@pytest.mark.parametrize("label", ["US 12", "UK 9", "31 cm"])
def test_a_label_beyond_the_chart_is_read_by_the_formula(label: str) -> None:
    assert foot(label) == read_sizes(pl.Series([label]), system=None)["foot_mm"][0]


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ("{ UK = 9, EU = 44 }, { UK = 8, EU = 45 }", "UK 9 stands before 8"),
        ("{ UK = 9, EU = 44 }, { UK = 10, EU = 44 }", "EU 44 stands before 44"),
        ("{ UK = 9 }", "needs a size in two systems"),
        ("{ BR = 41, UK = 9 }", "makers.1.sizes"),
    ],
)
def test_a_chart_that_does_not_rise_is_refused(rows: str, told: str) -> None:
    with pytest.raises(MarketFileError, match=f"(?s){told}"):
        market_of(rows)


def test_a_chart_of_a_maker_of_nothing_is_refused() -> None:
    with pytest.raises(MarketFileError, match="'Veskel', who makes none of the silhouettes"):
        parse_market(SMALLEST + '[[makers]]\nname = "Veskel"\n', where="market.toml")


def with_chart(market: Market) -> Market:
    """Return the small market with a chart of one of its two makers."""
    return market.model_copy(update={"makers": market_of(RISING).makers})


def test_the_sizes_of_a_sale_are_read_by_its_makers_chart(market: Market, tmp_path: Path) -> None:
    rows = [
        f"{place},,{name},2021-02-01,2021-03-0{place},,100,sold,28 cm,8,original"
        for place, name in ((4, "Gannet Hi"), (5, "Plover Lo"))
    ]
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        ingest(ledger, with_chart(market), [write_lantern(tmp_path, *rows)])
        sales = dict(sales_of(ledger).select("silhouette", "foot_mm").iter_rows())
    assert sales == {"Gannet Hi": 272, "Plover Lo": 280}


def test_the_size_of_a_described_pair_is_read_by_its_makers_chart(market: Market) -> None:
    assert understand(Description("Gannet Hi", size="28 cm"), with_chart(market)).foot_mm == 272


@pytest.mark.parametrize("label", ["BR 41,5 / EU 43.5", "EU 43.5 / BR 41.5", "EU 43.5, CN 275"])
def test_a_known_system_counts_beside_one_that_is_not_known(label: str) -> None:
    read = read_sizes(pl.Series([label]), system=None).row(0, named=True)
    assert (read["size_system"], read["foot_mm"], read["reason"]) == ("EU", 273, None)


def test_an_unknown_system_alone_is_no_size() -> None:
    assert read_sizes(pl.Series(["BR 41,5"]), system=None)["reason"].to_list() == ["not a size"]
