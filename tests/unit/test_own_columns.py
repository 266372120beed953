"""An export with the columns of a sale record maps itself, without a question."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.config import Market
from pipeline.ingest.proposal import propose_map
from pipeline.ledger import Ledger, open_ledger
from tests.exports import ingest
from tests.kept import sales_of

HEADER = "venue,lot_ref,title,status,closed_on,currency,price_basis,price_native,size_label,grade"
ROWS = (
    "Lantern Dock,1,Gannet Hi first run,sold,2021-03-04,GBP,all-in,80.00,UK 9,8",
    "Lantern Dock,2,Plover Lo,unsold,2021-03-05,GBP,,,UK 8,7.5",
)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "pairband.duckdb", create=True) as opened:
        yield opened


def write(folder: Path, header: str = HEADER, rows: tuple[str, ...] = ROWS) -> Path:
    path = folder / "records.csv"
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def test_it_is_proposed_field_by_field(market: Market, tmp_path: Path) -> None:
    proposal = propose_map(write(tmp_path), market)
    mapped = {one.column: one.field for one in proposal.columns if one.field is not None}
    assert mapped == {name: name for name in HEADER.split(",") if name != "price_basis"}


def test_it_asks_nothing(market: Market, tmp_path: Path) -> None:
    assert propose_map(write(tmp_path), market).questions == ()


def test_it_is_read_without_a_map(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    [outcome] = ingest(ledger, market, [write(tmp_path)]).files
    assert (outcome.read, outcome.recorded) == (2, 2)


def test_its_price_is_what_it_says_it_counts(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    ingest(ledger, market, [write(tmp_path)])
    assert sales_of(ledger)["all_in_native"].to_list() == [80, None]


def test_prices_of_several_bases_are_read_all_in(market: Market, tmp_path: Path) -> None:
    header = HEADER.replace("size_label", "all_in_native")
    rows = (
        "Lantern Dock,1,A,sold,2021-03-04,GBP,net,70,80,8",
        "Lantern Dock,2,B,sold,2021-03-04,GBP,all-in,90,90,8",
    )
    settings = {one.key: one.value for one in propose_map(write(tmp_path, header, rows), market).settings}
    columns = {one.field: one.column for one in propose_map(write(tmp_path, header, rows), market).columns}
    assert (columns["price_native"], settings["price_basis"]) == ("all_in_native", "all-in")


def test_a_price_in_the_base_currency_is_read_in_it(market: Market, tmp_path: Path) -> None:
    header = "venue,title,closed_on,price_paid"
    settings = {
        one.key: one.value
        for one in propose_map(write(tmp_path, header, ("Lantern Dock,A,2021-03-04,80",)), market).settings
    }
    assert (settings["currency"], settings["price_basis"]) == ("EUR", "all-in")


def test_an_export_with_a_few_such_columns_among_others_needs_a_map(market: Market, tmp_path: Path) -> None:
    header = "venue,title,status,closed_on,shelf,till,clerk"
    proposal = propose_map(write(tmp_path, header, ("Lantern Dock,A,sold,2021-03-04,1,2,3",)), market)
    assert "price_native" in {question.key for question in proposal.questions}


def test_a_file_name_too_long_for_a_map_stops_nothing(market: Market, tmp_path: Path) -> None:
    path = write(tmp_path).rename(tmp_path / f"{'r' * 200}.csv")
    assert propose_map(path, market).questions == ()
