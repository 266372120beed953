"""The stock of the ledger: what is there, what was sold and came back, and what to say of the lists."""

import json
from datetime import date, datetime
from pathlib import Path
from shutil import copy

import pytest
from click.testing import CliRunner

from pipeline.answers.outcomes.keep import keep_stock
from pipeline.answers.restoration.run import restore_stock
from pipeline.answers.stock.answer import ENDED, Stock
from pipeline.answers.stock.listed import has_stock
from pipeline.answers.stock.run import records_here, stock_histories, value_stock
from pipeline.answers.stock.tables import pairs_table, stock_sheet
from pipeline.cli import app
from pipeline.config import load_market
from pipeline.errors import PairError
from pipeline.ingest.run import ingest_files
from pipeline.ledger import open_ledger
from pipeline.shipped import shipped
from pipeline.workspace import Workspace
from reports.stock.page import stock_page
from tests.demo_ledger import demo_ledger
from tests.kept import keep_fit
from tests.restorations import demo_market_fitted

NOW = datetime(2026, 10, 5)
AUGUST, OCTOBER = date(2026, 8, 1), date(2026, 10, 1)
HEADER = (
    "stock,bought,cost,title,maker,silhouette,colourway,era,size,grade,box,tags,parts,overlay,lasting,defects,treatments,"
    "stamp,notes,work,ask,currency,where\n"
)
SALES = "item,sku,title,brand,model,colour,size,condition,box,listed,ended,state,asked,paid\n"
SOLD = "901,{},Gannet Hi,Ostrel,Gannet Hi,Buoy Red,UK 9,7,none,2026-08-02,{},{},400,380\n"


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo's market file and its ledger with a fit in it, and no stock list."""
    path = tmp_path_factory.mktemp("shop")
    copy(demo_ledger()[0], path / "pairband.duckdb")
    keep_fit(path / "pairband.duckdb", demo_market_fitted())
    copy(shipped("sample_data") / "market.toml", path / "market.toml")
    return path


@pytest.fixture
def shop(fitted: Path, tmp_path: Path) -> Path:
    for name in ("pairband.duckdb", "market.toml"):
        copy(fitted / name, tmp_path / name)
    return tmp_path


def line(
    number: str,
    bought: str = "2026-06-01",
    cost: str = "100",
    work: str = "",
    ask: str = "",
    currency: str = "EUR",
) -> str:
    """Return one line of a stock list in the columns of the demo's."""
    pair = "Gannet Hi,Ostrel,Gannet Hi,Buoy Red,first,UK 9,7,none,none,none,leather,board,none,none,,"
    return f"{number},{bought},{cost},{pair},{work},{ask},{currency},\n"


def read(shop: Path, *lines: str, on: date, name: str = "stock.csv", header: str = HEADER) -> None:
    """Read a stock list of a day, or an export of sales, into the ledger of a shop."""
    file = shop / name
    file.write_text(header + "".join(lines), encoding="utf-8")
    with open_ledger(shop / "pairband.duckdb") as ledger:
        ingest_files(
            ledger,
            load_market(shop / "market.toml"),
            [file],
            listed_on=on if header == HEADER else None,
            as_of=NOW.date(),
            loaded_at=NOW,
        )


def sell(shop: Path, number: str, on: str, state: str = "sold") -> None:
    read(
        shop, SOLD.format(number, on, state), on=OCTOBER, name=f"lantern_dock_{on}_{state}.csv", header=SALES
    )


def value(shop: Path, on: date = OCTOBER, file: Path | None = None) -> Stock:
    with Workspace.open(shop) as workspace:
        return value_stock(workspace, file, as_of=on, by="era")


def test_the_stock_of_the_ledger_is_the_latest_list(shop: Path) -> None:
    read(shop, line("A1"), line("A2"), on=AUGUST)
    read(shop, line("A2"), line("A3"), on=OCTOBER)

    assert value(shop).pairs["stock_ref"].to_list() == ["A2", "A3"]


def test_the_stock_of_an_earlier_day_is_that_of_the_list_before(shop: Path) -> None:
    read(shop, line("A1"), on=AUGUST)
    read(shop, line("A2"), on=OCTOBER)

    assert value(shop, date(2026, 9, 1)).pairs["stock_ref"].to_list() == ["A1"]


def test_a_ledger_without_a_list_says_how_to_read_one(shop: Path) -> None:
    with pytest.raises(
        PairError, match=r"no stock list of 1 Oct 2026 or before\n`pairband ingest FILE` keeps one"
    ):
        value(shop)


def test_a_sold_pair_leaves_when_its_sale_is_read(shop: Path) -> None:
    read(shop, line("A1", cost="100", work="20"), line("A2"), on=AUGUST)
    sell(shop, "A1", "2026-09-02")
    stock = value(shop)

    assert stock.pairs["stock_ref"].to_list() == ["A2"]
    left = stock.sold.row(0, named=True)
    assert (left["stock_ref"], left["profit"]) == ("A1", pytest.approx(left["net"] - 120))


@pytest.mark.parametrize("state", ["returned", "cancelled"])
def test_a_pair_comes_back_when_its_sale_is_undone(shop: Path, state: str) -> None:
    read(shop, line("A1"), on=AUGUST)
    sell(shop, "A1", "2026-09-02")
    sell(shop, "A1", "2026-09-09", state)

    assert value(shop).pairs["stock_ref"].to_list() == ["A1"]


def test_a_pair_that_a_later_list_still_names_counts_nowhere(shop: Path) -> None:
    read(shop, line("A1"), line("A2"), on=OCTOBER)
    sell(shop, "A1", "2026-09-02")
    stock = value(shop)

    assert stock.pairs["stock_ref"].to_list() == ["A2"]
    assert stock.sold.is_empty()
    assert stock.doubtful.select("stock_ref", "why").rows() == [("A1", "still in the list of 1 Oct 2026")]


def test_work_paid_is_a_part_of_the_cost_in_the_margin(shop: Path) -> None:
    read(shop, line("A1", cost="100", work="20"), on=AUGUST)
    stock = value(shop)

    row = stock.pairs.row(0, named=True)
    assert row["margin"] == pytest.approx(row["net"] - 120)
    assert stock.whole is not None
    assert stock.whole.cost == 120


def test_a_margin_with_work_in_it_says_so(shop: Path) -> None:
    read(shop, line("A1", work="20"), on=AUGUST)

    assert "Net less cost and work" in [column.heading for column in pairs_table(value(shop)).columns]


def test_a_cost_without_a_currency_counts_as_not_known_and_is_said(shop: Path) -> None:
    read(shop, line("A1", currency=""), on=AUGUST)
    stock = value(shop)

    assert stock.pairs["cost"].to_list() == [None]
    assert any(said.startswith("The cost of A1: '100': neither its cell") for said in stock.cautions)


def test_a_cost_is_at_the_rate_of_the_day_it_was_paid(shop: Path) -> None:
    read(shop, line("A1", "2022-09-28", currency="GBP"), line("A2", "2026-06-01", currency="GBP"), on=AUGUST)
    costs = value(shop).pairs["cost"].to_list()

    assert costs[0] != pytest.approx(costs[1], rel=0.001)


def test_a_list_that_is_old_is_said_to_be(shop: Path) -> None:
    read(shop, line("A1"), on=AUGUST)

    assert any("is of 1 Aug 2026, 61 days before" in said for said in value(shop).cautions)


def test_a_pair_that_left_the_list_without_a_sale_is_said(shop: Path) -> None:
    read(shop, line("A1"), line("A2"), on=AUGUST)
    read(shop, line("A2"), on=OCTOBER)

    assert any("no sale of it is known: A1." in said for said in value(shop).cautions)


def test_rows_that_could_not_be_read_are_said(shop: Path) -> None:
    read(shop, line("A1"), line("A2", cost="eighty"), on=OCTOBER)

    assert any(said.startswith("1 row of stock.csv could not be read") for said in value(shop).cautions)


def test_a_list_by_a_map_that_is_gone_is_left_out_and_said(shop: Path) -> None:
    read(shop, line("A1"), on=AUGUST)
    market = shop / "market.toml"
    renamed = market.read_text(encoding="utf-8").replace("[maps.stock", "[maps.shelf")
    market.write_text(renamed, encoding="utf-8")
    read(shop, line("A2"), on=OCTOBER)
    stock = value(shop)

    assert stock.pairs["stock_ref"].to_list() == ["A2"]
    assert any("the market file has no map 'stock' any more" in said for said in stock.cautions)


def test_an_offer_whose_last_day_has_passed_is_to_be_looked_at(shop: Path) -> None:
    market = shop / "market.toml"
    text = market.read_text(encoding="utf-8")
    before, stock = text.split("[maps.stock.columns]")
    until = stock.replace('notes = "notes"', 'closed_on = "notes"', 1)
    market.write_text(f"{before}[maps.stock.columns]{until}", encoding="utf-8")
    ended = line("A1", ask="300").replace("none,none,,,", "none,none,,2026-09-01,")
    read(shop, ended, on=OCTOBER)

    assert value(shop).pairs["look"].to_list() == [ENDED]


def test_a_file_can_be_tried_beside_the_stock_of_the_ledger(shop: Path) -> None:
    read(shop, line("A1"), on=OCTOBER)
    tried = shop / "stock_if.csv"
    tried.write_text(HEADER + line("A7"), encoding="utf-8")

    assert value(shop, file=tried).pairs["stock_ref"].to_list() == ["A7"]


def test_restoration_weighs_the_pairs_that_are_still_there(shop: Path) -> None:
    read(shop, line("A1"), line("A2"), on=AUGUST)
    sell(shop, "A1", "2026-09-02")
    with Workspace.open(shop) as workspace:
        report = restore_stock(workspace, None, as_of=OCTOBER)

    assert [pair.label for pair in report.pairs] == ["A2"]


def test_the_pairs_that_are_there_are_in_the_order_of_their_values(shop: Path) -> None:
    read(shop, line("A3"), line("A1"), line("A2"), on=AUGUST)
    sell(shop, "A1", "2026-09-02")
    with Workspace.open(shop) as workspace:
        here = records_here(workspace, None, as_of=OCTOBER)

    assert here["stock_ref"].to_list() == value(shop).pairs["stock_ref"].to_list() == ["A3", "A2"]


def test_kept_values_of_the_stock_are_values_of_its_pairs(shop: Path) -> None:
    read(shop, line("A1", ask="400"), line(""), on=AUGUST)
    with Workspace.open(shop) as workspace:
        stock = value_stock(workspace, None, as_of=OCTOBER, by="era")
        kept = keep_stock(workspace, stock, kept_at=NOW)
        events = stock_histories(workspace, stock)

    assert kept == 1
    assert events["details"][-1].endswith("; ask €400")


def test_the_page_folds_the_history_of_each_pair_under_its_number(shop: Path) -> None:
    read(shop, line("A1", ask="400"), line("A2"), on=AUGUST)
    read(shop, line("A1", ask="380"), line("A2"), on=OCTOBER)
    with Workspace.open(shop) as workspace:
        stock = value_stock(workspace, None, as_of=OCTOBER, by="era")
        page = stock_page(stock, business="A shop", events=stock_histories(workspace, stock))

    assert page.count('<details class="sale prints">') == 1
    assert "ask €400 → €380" in page


def test_the_title_says_of_which_day_the_list_is(shop: Path) -> None:
    read(shop, line("A1"), on=AUGUST)

    assert stock_sheet(value(shop)).title == "The stock, valued on 1 Oct 2026, by the list of 1 Aug 2026"


def test_there_is_no_stock_before_the_first_list(shop: Path) -> None:
    read(shop, line("A1"), on=AUGUST)
    with Workspace.open(shop) as workspace:
        assert not has_stock(workspace, as_of=date(2026, 7, 1))


def test_the_command_values_the_stock_of_the_ledger(shop: Path) -> None:
    read(shop, line("A1"), on=AUGUST)
    places = ["--ledger", str(shop / "pairband.duckdb"), "--market", str(shop / "market.toml")]
    shown = CliRunner().invoke(app, ["stock", "--on", "2026-10-01", "--json", *places])

    assert shown.exit_code == 0, shown.output
    assert [pair["stock_ref"] for pair in json.loads(shown.stdout)["pairs"]] == ["A1"]
