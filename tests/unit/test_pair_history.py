"""The history of a pair: bought, listed, worked on, offered, valued, sold and returned, in the order of days."""

import json
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.answers.outcomes.keep import SCHEMA
from pipeline.answers.records.run import find_stock_number, show_pair
from pipeline.answers.records.tables import pair_sheet
from pipeline.answers.stock.history import BOUGHT, CHANGED, LISTED, MISSING, OFFERED, VALUED
from pipeline.cli import app
from pipeline.config import Market
from pipeline.ledger import Ledger, open_ledger
from pipeline.workspace import Workspace
from tests.exports import AS_OF, ingest, write_lantern
from tests.stock_lists import pair, read_stock, with_stock

MAY, JUNE = date(2026, 5, 1), date(2026, 6, 1)
SOLD = "7,A1,Gannet Hi Buoy Red,2026-04-01,2026-05-20,120,100,sold,UK 9,8,original"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "pairband.duckdb", create=True) as opened:
        yield opened


@pytest.fixture
def stocked(market: Market) -> Market:
    return with_stock(market)


class _Open(Workspace):
    """A workspace over a ledger that is open already."""

    def __init__(self, ledger: Ledger, market: Market) -> None:
        super().__init__(ledger.path, ledger.path)
        self.__dict__ |= {"ledger": ledger, "market": market}


def events(ledger: Ledger, market: Market, number: str = "A1") -> pl.DataFrame:
    """Return the history of a number up to the day of reading."""
    return show_pair(_Open(ledger, market), number, as_of=AS_OF).events


def told(ledger: Ledger, market: Market) -> list[tuple[object, ...]]:
    return events(ledger, market).select("day", "what").rows()


def test_a_pair_is_bought_and_then_stands_in_the_list(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(ask="200"), on=MAY)

    assert events(ledger, stocked).select("day", "what", "amount", "currency", "details").rows() == [
        (date(2026, 1, 10), BOUGHT, 100.0, "EUR", None),
        (MAY, LISTED, None, None, "grade 7; ask €200"),
    ]


def test_a_list_in_which_nothing_changed_tells_nothing(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    for day in (MAY, JUNE):
        read_stock(ledger, stocked, tmp_path, pair(), on=day)

    assert [what for _, what in told(ledger, stocked)] == [BOUGHT, LISTED]


def test_what_changed_between_two_lists_is_told(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair(ask="200"), on=MAY)
    better = pair(ask="180", work="12", what="Gannet Hi Buoy Red,UK 9,8")
    read_stock(ledger, stocked, tmp_path, better, on=JUNE)

    last = events(ledger, stocked).row(-1, named=True)
    assert (last["day"], last["what"]) == (JUNE, CHANGED)
    assert last["details"] == "grade 7 → 8; work paid €12; ask €200 → €180"


def test_an_ask_that_is_no_longer_stated_is_told(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair(ask="200"), on=MAY)
    read_stock(ledger, stocked, tmp_path, pair(), on=JUNE)

    assert events(ledger, stocked)["details"][-1] == "ask no longer stated (was €200)"


def test_a_pair_that_is_in_the_next_list_no_longer_is_told(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair("A1"), pair("A2"), on=MAY)
    read_stock(ledger, stocked, tmp_path, pair("A2"), on=JUNE)

    assert told(ledger, stocked)[-1] == (JUNE, MISSING)


def test_an_empty_list_tells_that_the_pair_is_gone(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair("A1"), on=MAY)
    read_stock(ledger, stocked, tmp_path, on=JUNE)

    assert told(ledger, stocked)[-1] == (JUNE, MISSING)


def test_offers_and_sales_stand_among_the_lists_by_their_days(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    ingest(ledger, stocked, [write_lantern(tmp_path, SOLD)])

    assert told(ledger, stocked) == [
        (date(2026, 1, 10), BOUGHT),
        (date(2026, 4, 1), OFFERED),
        (MAY, LISTED),
        (date(2026, 5, 20), "sold"),
    ]


def test_a_return_is_told_and_its_sale_is_undone(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    returned = SOLD.replace("2026-05-20", "2026-05-29").replace("sold", "returned")
    ingest(ledger, stocked, [write_lantern(tmp_path, SOLD, returned)])

    assert told(ledger, stocked)[1:] == [
        (date(2026, 5, 20), "sold, and undone"),
        (date(2026, 5, 29), "returned"),
    ]


def test_kept_values_stand_in_the_history_with_their_bands(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    said = {
        "question": "appraisal",
        "said_on": JUNE,
        "known_until": MAY,
        "fit_id": "1",
        "stock_ref": "A1",
        "pair": "Gannet Hi",
        "currency": "EUR",
        "median": 180.0,
        "low": 150.0,
        "high": 210.0,
    }
    ledger.write("outcomes/keep_values", pl.DataFrame([said], schema=SCHEMA), kept_at=datetime(2026, 6, 1))

    last = events(ledger, stocked).row(-1, named=True)
    assert (last["what"], last["amount"], last["details"]) == (VALUED, 180.0, "80 % band €150 – €210")


def test_a_number_that_was_used_again_says_when_each_of_its_pairs_was_bought(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair("A1", "2025-01-10"), on=MAY)
    read_stock(ledger, stocked, tmp_path, pair("A1", "2026-05-25"), on=JUNE)
    sheet = pair_sheet(show_pair(_Open(ledger, stocked), "A1", as_of=AS_OF))

    assert sheet.sentences == ("The number stands for 2 pairs, bought on 10 Jan 2025, 25 May 2026.",)


def test_a_cost_without_a_currency_is_told_without_one(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(currency=""), on=MAY)

    assert events(ledger, stocked).row(0, named=True)["currency"] is None


def test_a_stock_number_is_found_in_any_case(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair("A1"), on=MAY)

    assert find_stock_number(ledger, " a1") == "A1"


def test_a_number_that_nothing_is_known_of_is_none(ledger: Ledger) -> None:
    assert find_stock_number(ledger, "A1") is None


def test_the_command_shows_the_history_of_a_stock_number(stocked: Market, tmp_path: Path) -> None:
    path = tmp_path / "shop.duckdb"
    with open_ledger(path, create=True) as ledger:
        read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    market = Path(__file__).parents[1] / "market.toml"
    shown = CliRunner().invoke(
        app, ["records", "A1", "--json", "--ledger", str(path), "--market", str(market)]
    )

    assert shown.exit_code == 0, shown.output
    assert [event["what"] for event in json.loads(shown.output)["events"]] == [BOUGHT, LISTED]
