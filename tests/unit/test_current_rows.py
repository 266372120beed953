"""What is kept of a row as its export wrote it, and what corrected and removed rows make of sales."""

import json
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import Market
from pipeline.ingest.same import derive_sales
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import ingest, write_holm, write_lantern
from tests.kept import sales_of

SOLD = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"
ALSO_SOLD = "2;Plover Lo;05.03.2021;80;zugeschlagen;42;"
BROKEN = "3;Gannet Hi;31.02.2021;80,00;zugeschlagen;43;"
ONE_NUMBER = (
    "7,,Gannet Hi,2021-02-01,2021-03-04,,100,sold,UK 9,,",
    "7,,Plover Lo,2021-02-01,2021-03-04,,80,sold,UK 8,,",
)
"""Two rows of one file that share a number and differ in title and price, so that the number tells nothing."""

CORRECT = "INSERT INTO corrected_rows SELECT * REPLACE ({}) FROM staged_rows WHERE {}"
REMOVE = "INSERT INTO removed_rows SELECT row_id FROM staged_rows WHERE {}"
GANNETS = "title LIKE 'Gannet%'"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _cells(ledger: Ledger) -> list[dict[str, str | None]]:
    kept = ledger.connection.sql("SELECT cells FROM source_rows ORDER BY row_id").fetchall()
    return [json.loads(cells) for (cells,) in kept]


def _change(ledger: Ledger, change: str) -> None:
    ledger.connection.execute(change).fetchall()
    with ledger.transaction():
        derive_sales(ledger)


def test_the_cells_of_a_recorded_row_are_kept_as_the_export_wrote_them(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, SOLD)])
    [cells] = _cells(ledger)
    assert (cells["Los"], cells["Zuschlag"], cells["Bemerkung"]) == ("1", "600,00", None)


def test_cells_are_kept_of_each_staged_row_and_of_no_other(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, BROKEN, SOLD, ALSO_SOLD)])
    rows = ledger.connection.sql(
        "SELECT lot_ref, cells FROM staged_rows LEFT JOIN source_rows USING (row_id) ORDER BY lot_ref"
    ).fetchall()
    assert [(lot, json.loads(cells)["Los"]) for lot, cells in rows] == [("1", "1"), ("2", "2")]


def test_contact_details_in_the_cells_of_a_recorded_row_are_masked(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, f"{SOLD}ask quentin@example.org")])
    [cells] = _cells(ledger)
    assert cells["Bemerkung"] == "ask [e-mail]"


def test_a_contact_detail_counts_once_where_the_export_wrote_it(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    row = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;ask quentin@example.org;"
    [file] = ingest(ledger, market, [write_holm(tmp_path, row)]).files
    assert any("1 e-mail address and 0 telephone numbers" in note for note in file.notes)


def test_cells_are_kept_once_of_a_file_that_is_read_again(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_holm(tmp_path, SOLD)
    ingest(ledger, market, [export])
    ledger.connection.execute("UPDATE source_files SET reading_digest = 'another'").fetchall()
    ingest(ledger, market, [export])
    assert len(_cells(ledger)) == 1


def test_a_row_that_was_removed_tells_of_no_sale(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    ingest(ledger, market, [write_holm(tmp_path, SOLD, ALSO_SOLD)])
    _change(ledger, REMOVE.format(GANNETS))
    assert sales_of(ledger)["title"].to_list() == ["Plover Lo"]
    assert run_checks(ledger) == ()


def test_a_sale_that_another_row_tells_of_outlives_the_row_that_was_removed(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    season = write_holm(tmp_path, SOLD.replace("UK 9", "UK 9, box"), name="holm_season.csv")
    ingest(ledger, market, [write_holm(tmp_path, SOLD), season])
    _change(ledger, REMOVE.format("title = 'Gannet Hi UK 9, box'"))
    assert sales_of(ledger)["title"].to_list() == ["Gannet Hi UK 9"]
    assert run_checks(ledger) == ()


def test_a_sale_is_what_its_row_says_once_that_is_corrected(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, SOLD, ALSO_SOLD)])
    _change(ledger, CORRECT.format("8.5 AS grade, 'stated' AS grade_origin", GANNETS))
    assert sales_of(ledger)["grade"].to_list() == [8.5, None]
    assert run_checks(ledger) == ()


def test_a_sale_that_two_rows_tell_of_is_merged_from_the_corrected_one(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    season = write_holm(tmp_path, SOLD, ALSO_SOLD, name="holm_season.csv")
    ingest(ledger, market, [write_holm(tmp_path, SOLD), season])
    _change(ledger, CORRECT.format("8.5 AS grade, 'stated' AS grade_origin", GANNETS))
    assert sales_of(ledger)["grade"].to_list() == [8.5, None]


@pytest.mark.parametrize(
    "wrong", ["'9' AS lot_ref", "'Plover Lo' AS title, 80 AS price_native, '42' AS size_label"]
)
def test_a_correction_changes_no_record_id(
    ledger: Ledger, market: Market, tmp_path: Path, wrong: str
) -> None:
    ingest(
        ledger, market, [write_holm(tmp_path, SOLD, ALSO_SOLD.replace("2;", "1;", 1).replace("05.", "04."))]
    )
    before = set(sales_of(ledger)["record_id"])
    _change(ledger, CORRECT.format(wrong, GANNETS))
    assert set(sales_of(ledger)["record_id"]) == before


def test_removing_a_row_changes_no_record_id_of_another(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_lantern(tmp_path, *ONE_NUMBER)])
    before = sales_of(ledger).filter(pl.col("title") == "Plover Lo")["record_id"].to_list()
    _change(ledger, REMOVE.format(GANNETS))
    assert sales_of(ledger)["record_id"].to_list() == before


def test_a_corrected_stock_number_links_the_rows_of_one_sale(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    here = write_lantern(tmp_path, "7,TP-1,Gannet Hi,2021-02-01,2021-03-04,,100,sold,UK 9,,")
    there = write_lantern(
        tmp_path, "8,TP-2,Gannet Hi,2021-02-01,2021-03-04,,100,sold,UK 9,8,", name="lantern_b.csv"
    )
    ingest(ledger, market, [here, there])
    _change(ledger, CORRECT.format("'TP-1' AS stock_ref", "stock_ref = 'TP-2'"))
    assert sales_of(ledger).height == 1
