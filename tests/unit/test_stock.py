"""The stock list: what it is worth together, what was sold of it, which asks to look at."""

from datetime import date
from pathlib import Path
from shutil import copy

import polars as pl
import pytest

from pipeline.answers.stock.answer import ABOVE, BELOW, SLOW, Stock
from pipeline.answers.stock.run import value_stock
from pipeline.answers.stock.tables import groups_table, pairs_table, stock_sheet
from pipeline.ledger import open_ledger
from pipeline.shipped import shipped
from pipeline.workspace import Workspace
from tests.demo_ledger import demo_ledger
from tests.kept import keep_fit
from tests.restorations import demo_market_fitted

ON = date(2026, 10, 1)
HEAD = "stock,bought,cost,ask,title,silhouette,colourway,era,size,grade\n"
COLUMNS = """[maps.stock.columns]
stock_ref = "stock"
offered_on = "bought"
price_native = "cost"
ask_native = "ask"
title = "title"
silhouette = "silhouette"
colourway = "colourway"
era = "era"
size_label = "size"
grade = "grade"
"""
GANNET = "Gannet Hi,Gannet Hi,Buoy Red,first,UK 9,7"
RAZORBILL = "Razorbill,Razorbill,Moss Rope,second,UK 9,5.5"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo's ledger, a fit in it, and a market file whose stock map has an ask."""
    path = tmp_path_factory.mktemp("stock")
    copy(demo_ledger()[0], path / "pairband.duckdb")
    keep_fit(path / "pairband.duckdb", demo_market_fitted())
    stated = (shipped("sample_data") / "market.toml").read_text(encoding="utf-8")
    before, rest = stated.split("[maps.stock.columns]\n")
    _, after = rest.split("\n\n", 1) if "\n\n" in rest else (rest, "")
    (path / "market.toml").write_text(f"{before}{COLUMNS}\n{after}", encoding="utf-8")
    return path


def value(folder: Path, *rows: str, by: str = "era") -> Stock:
    file = folder / "stock.csv"
    file.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    with Workspace.open(folder) as workspace:
        return value_stock(workspace, file, as_of=ON, by=by)


def sold_by_number(folder: Path) -> dict[str, object]:
    """Return one sale of a pair with a stock number."""
    with open_ledger(folder / "pairband.duckdb", read_only=True) as ledger:
        return ledger.read("marts/stock_sales", as_of=ON).row(0, named=True)


def test_one_pair_is_worth_what_its_own_band_says(folder: Path) -> None:
    stock = value(folder, f"A1,2026-06-01,100,,{GANNET}")

    assert stock.whole is not None
    alone = stock.pairs.row(0, named=True)
    assert (stock.whole.low, stock.whole.median, stock.whole.high) == pytest.approx(
        (alone["low"], alone["median"], alone["high"]), rel=0.03
    )


def test_the_band_of_all_is_narrower_than_the_sum_of_bands(folder: Path) -> None:
    stock = value(folder, *(f"A{n},2026-06-01,100,,{GANNET}" for n in range(12)))

    assert stock.whole is not None
    assert stock.pairs["low"].sum() < stock.whole.low < stock.whole.high < stock.pairs["high"].sum()


def test_the_costs_of_groups_add_up_to_that_of_all(folder: Path) -> None:
    stock = value(folder, f"A1,2026-06-01,100,,{GANNET}", f"A2,2026-06-01,50,,{RAZORBILL}", by="silhouette")

    assert {part.group: part.cost for part in stock.groups} == {"Gannet Hi": 100, "Razorbill": 50}
    assert groups_table(stock).texts_of("cost") == ["€100", "€50", "€150"]


def test_a_pair_that_was_sold_since_it_came_in_leaves_by_its_number(folder: Path) -> None:
    sale = sold_by_number(folder)
    stock = value(folder, f"{sale['stock_ref']},2000-01-01,10,,{GANNET}", f"A2,2026-06-01,50,,{RAZORBILL}")

    assert stock.pairs["stock_ref"].to_list() == ["A2"]
    left = stock.sold.row(0, named=True)
    assert (sale["venue"], left["sold_on"]) == ("Tidewrack Counter", sale["sold_on"])
    assert (left["net"], left["profit"]) == (sale["price_paid"], pytest.approx(sale["price_paid"] - 10))


def test_a_sale_before_the_pair_came_in_is_said_and_the_pair_stays(folder: Path) -> None:
    number = sold_by_number(folder)["stock_ref"]
    stock = value(folder, f"{number},2026-09-30,10,,{GANNET}")

    assert stock.pairs["stock_ref"].to_list() == [number]
    assert any(line.startswith(f"Sold before it came in: {number}.") for line in stock.cautions)


def test_a_stock_number_that_stands_twice_counts_twice_and_is_said(folder: Path) -> None:
    stock = value(folder, f"A1,2026-06-01,100,,{GANNET}", f"A1,2026-06-01,50,,{RAZORBILL}")

    assert stock.pairs.height == 2
    assert any("Stock number A1 stands twice (rows 2, 3)" in line for line in stock.cautions)


@pytest.mark.parametrize(
    ("ask", "since", "look"),
    [("9000", "2026-09-30", ABOVE), ("10", "2026-09-30", BELOW), ("", "2026-01-01", None)],
)
def test_an_ask_outside_what_8_in_10_pay_is_to_be_looked_at(
    folder: Path, ask: str, since: str, look: str | None
) -> None:
    stock = value(folder, f"A1,{since},100,{ask},{GANNET}")

    assert stock.pairs["look"].to_list() == [look]


def test_an_ask_over_fair_value_is_to_be_looked_at_once_it_was_long_held(folder: Path) -> None:
    fair = value(folder, f"A1,2026-09-30,100,,{GANNET}").pairs["median"][0]
    asks = [
        f"A{n},{since},100,{fair * 1.05:.0f},{GANNET}" for n, since in enumerate(("2026-09-30", "2026-01-01"))
    ]

    assert value(folder, *asks).pairs["look"].to_list() == [None, SLOW]


def test_a_cost_that_is_not_known_is_counted_and_not_guessed(folder: Path) -> None:
    stock = value(folder, f"A1,2026-06-01,,,{GANNET}", f"A2,2026-06-01,50,,{RAZORBILL}")

    assert stock.whole is not None
    assert (stock.whole.cost, stock.whole.without_cost) == (50, 1)
    assert ("At cost", "€50, 1 pair without a cost") in stock_sheet(stock).figures


def test_a_list_of_sold_pairs_alone_says_that_none_is_left(folder: Path) -> None:
    number = sold_by_number(folder)["stock_ref"]
    sheet = stock_sheet(value(folder, f"{number},2000-01-01,10,,{GANNET}"))

    assert sheet.sentences == ("No pair of this list is still there.",)


def test_the_best_venue_leaves_the_most_after_its_fees(folder: Path) -> None:
    """Against the consignment of the same pair, which works the fees out one amount at a time."""
    from pipeline.answers.consignment.run import consign_file

    stock = value(folder, f"A1,2026-06-01,100,,{GANNET}")
    with Workspace.open(folder) as workspace:
        [consigned] = consign_file(workspace, folder / "stock.csv", row=1, as_of=ON)
    at_best = {
        offer.venue: float(offer.at_median.hammer - offer.at_median.venue_fee) for offer in consigned.offers
    }

    row = stock.pairs.row(0, named=True)
    assert row["net"] == pytest.approx(at_best[row["best_venue"]], rel=0.005)


def test_every_pair_of_the_demo_has_the_value_of_its_appraisal(folder: Path) -> None:
    from pipeline.answers.appraisal.run import appraise_file

    listed = shipped("sample_data") / "exports" / "stock.csv"
    with Workspace(folder / "pairband.duckdb", shipped("sample_data") / "market.toml") as workspace:
        stock = value_stock(workspace, Path(str(listed)), as_of=ON, by="era")
        appraised = appraise_file(workspace, Path(str(listed)), row=None, as_of=ON)

    assert stock.pairs["median"].to_list() == pytest.approx([one.median for one in appraised])
    assert pairs_table(stock).rows["high"].to_list() == pytest.approx(
        [one.bands[1].high for one in appraised]
    )


def test_thousands_of_pairs_are_drawn_often_enough_for_their_low_figure(folder: Path) -> None:
    stock = value(folder, *(f"A{n},2026-06-01,100,,{GANNET}" for n in range(3_000)))

    assert isinstance(stock.pairs, pl.DataFrame)
    assert stock.whole is not None
    assert stock.whole.error < 0.02 * stock.whole.median


def test_a_stock_of_which_half_the_values_are_weak_says_so_above_the_whole(folder: Path) -> None:
    unheard = GANNET.replace("Gannet Hi", "Great Auk Hi")
    stock = value(folder, f"A1,2026-06-01,100,,{unheard}", f"A2,2026-06-01,50,,{RAZORBILL}")

    assert "too few sales" in stock_sheet(stock).weak
    assert "Of the 2 pairs, 1 have a value on weak evidence: too few sales." in stock.cautions


def test_a_number_that_is_used_again_after_a_sale_is_a_pair_that_is_there(folder: Path) -> None:
    number = sold_by_number(folder)["stock_ref"]
    stock = value(folder, f"{number},2000-01-01,10,,{GANNET}", f"{number},2026-09-30,50,,{RAZORBILL}")

    assert stock.pairs.select("stock_ref", "silhouette").rows() == [(number, "Razorbill")]
    assert stock.sold["silhouette"].to_list() == ["Gannet Hi"]
