"""What a run does to the ledger, and what it says of it."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from polars.testing import assert_frame_equal

from pipeline.config import ExportMap, Market
from pipeline.errors import ExportError, MapError, UnknownName
from pipeline.ingest import run
from pipeline.ingest.normalise import Normalised, normalise
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ingest.readers import TextTable
from pipeline.ingest.run import ingest_files
from pipeline.ledger import Ledger, open_ledger
from tests.exports import AS_OF, LANTERN_HEADER, LOADED_AT, ingest, write_holm, write_lantern
from tests.kept import sales_of

SOLD = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"
UNSOLD = "2;Plover Lo UK 8;04.03.2021;;zurück;42;"
BROKEN = "3;Plover Lo UK 8;31.02.2021;80,00;zugeschlagen;42;"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _counts(ledger: Ledger) -> tuple[int, int, int]:
    """Return the numbers of staged rows, quarantined rows and sales."""
    staged, quarantined, sales = ledger.read("staging/row_counts").row(0)
    return staged, quarantined, sales


def _with_map(market: Market, name: str, **changed: object) -> Market:
    mapped = ExportMap.model_validate(market.maps[name].model_dump() | changed)
    return market.model_copy(update={"maps": {**market.maps, name: mapped}})


def test_rows_read_are_recorded_duplicate_or_quarantined(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    [file] = ingest(ledger, market, [write_holm(tmp_path, SOLD, UNSOLD, SOLD, BROKEN)]).files
    assert (file.read, file.recorded, file.duplicates, file.quarantined) == (4, 2, 1, 1)


def test_a_reason_comes_with_its_first_offender(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    [file] = ingest(ledger, market, [write_holm(tmp_path, SOLD, BROKEN)]).files
    [reason] = file.reasons
    assert (reason.field, reason.rows, reason.row_number, reason.value) == ("closed_on", 1, 3, "31.02.2021")


def test_reading_a_file_again_changes_nothing(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    export = write_holm(tmp_path, SOLD, UNSOLD)
    ingest(ledger, market, [export])
    before = ledger.path.read_bytes()
    [again] = ingest(ledger, market, [export]).files
    assert again.unchanged
    assert ledger.path.read_bytes() == before


def test_the_same_content_under_another_name_is_the_same_file(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    copies = [write_holm(tmp_path, SOLD), write_holm(tmp_path, SOLD, name="holm_copy.csv")]
    run = ingest(ledger, market, copies)
    assert [file.unchanged for file in run.files] == [False, True]
    assert _counts(ledger) == (1, 0, 1)


def test_what_was_quarantined_comes_in_once_the_map_is_mended(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_holm(tmp_path, SOLD, "2;Plover Lo;04.03.2021;80,00;nachverkauf;42;")
    ingest(ledger, market, [export])
    assert _counts(ledger) == (1, 1, 1)
    words = {**market.maps["holm"].status_words, "nachverkauf": "sold"}
    ingest(ledger, _with_map(market, "holm", status_words=words), [export])
    assert _counts(ledger) == (2, 0, 2)


def test_a_mended_map_replaces_the_rows_of_the_file(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    export = write_holm(tmp_path, SOLD)
    ingest(ledger, market, [export])
    ingest(ledger, _with_map(market, "holm", price_basis="all-in"), [export])
    assert [str(price) for price in sales_of(ledger)["price_paid"]] == ["600.0000"]


def test_a_missing_file_among_others_leaves_the_ledger_as_it_was(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    good, missing = write_holm(tmp_path, SOLD), tmp_path / "holm_missing.csv"
    with pytest.raises(ExportError, match="there is no file"):
        ingest(ledger, market, [good, missing])
    assert _counts(ledger) == (0, 0, 0)


def test_a_file_that_no_map_is_for_is_refused(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    export = write_holm(tmp_path, SOLD, name="elsewhere.csv")
    with pytest.raises(
        MapError, match=r"no map is for files called elsewhere.csv \(maps are for: holm_\*.csv"
    ):
        ingest(ledger, market, [export])


def test_a_file_that_two_maps_fit_is_refused(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    doubled = market.model_copy(update={"maps": {**market.maps, "twin": market.maps["holm"]}})
    with pytest.raises(MapError, match="fits several maps: holm, twin"):
        ingest(ledger, doubled, [write_holm(tmp_path, SOLD)])


def test_a_map_may_be_named(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    [file] = ingest(ledger, market, [write_holm(tmp_path, SOLD, name="elsewhere.csv")], map_name="holm").files
    assert (file.map_name, file.recorded) == ("holm", 1)


def test_a_map_that_is_not_there_is_reported_with_those_that_are(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    with pytest.raises(UnknownName, match="no export map is called 'holms'\ndid you mean 'holm'"):
        ingest(ledger, market, [write_holm(tmp_path, SOLD)], map_name="holms")


def test_the_run_says_when_rates_are_the_last_known(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    run = ingest(ledger, market, [write_lantern(tmp_path, "7,,Gannet Hi,2026-06-01,2026-06-20,,80,sold,9,,")])
    sold = sales_of(ledger)
    assert sold["rate_on"].to_list() <= sold["sold_on"].to_list()
    assert all("last known" in note for note in run.notes)


def test_progress_is_reported_by_rows(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    ingest_files(
        ledger, market, [write_holm(tmp_path, SOLD, UNSOLD)], as_of=AS_OF, loaded_at=LOADED_AT,
        on_progress=lambda name, done, total: told.append((name, done, total)),
    )  # fmt: skip
    assert list(dict.fromkeys(told)) == [
        ("holm_2021.csv", 0, 1),
        ("holm_2021.csv", 0, 2),
        ("holm_2021.csv", 2, 2),
    ]


def test_a_file_that_is_read_in_parts_comes_to_the_same_sales(
    ledger: Ledger, market: Market, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_holm(tmp_path, SOLD, BROKEN, UNSOLD)
    with open_ledger(tmp_path / "whole.duckdb", create=True) as whole:
        ingest(whole, market, [path])
        expected = sales_of(whole)
    monkeypatch.setattr(run, "CHUNK_ROWS", 1)
    ingest(ledger, market, [path])
    assert_frame_equal(sales_of(ledger), expected)


def test_progress_is_reported_part_by_part(
    ledger: Ledger, market: Market, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "CHUNK_ROWS", 1)
    told: list[int] = []
    ingest_files(
        ledger, market, [write_holm(tmp_path, SOLD, BROKEN, UNSOLD)], as_of=AS_OF, loaded_at=LOADED_AT,
        on_progress=lambda name, done, total: told.append(done),
    )  # fmt: skip
    assert list(dict.fromkeys(told)) == [0, 1, 2, 3]


def test_an_error_in_a_later_part_of_a_file_takes_back_the_parts_before_it(
    ledger: Ledger, market: Market, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def until_the_second(table: TextTable, *given: Any, **named: Any) -> Normalised:
        if table.row_numbers[0] == 2:
            return normalise(table, *given, **named)
        raise MapError("the second part cannot be read", "")

    monkeypatch.setattr(run, "CHUNK_ROWS", 1)
    monkeypatch.setattr(run, "normalise", until_the_second)
    with pytest.raises(MapError, match="the second part cannot be read"):
        ingest(ledger, market, [write_holm(tmp_path, SOLD, UNSOLD)])
    assert _counts(ledger) == (0, 0, 0)


def test_a_row_in_quarantine_keeps_every_column_that_the_map_reads(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, BROKEN)])
    [cells] = ledger.read("staging/quarantine_list")["cells"]
    assert '"Los":"3"' in cells
    assert '"Zuschlag":"80,00"' in cells


def test_the_quarantine_as_csv_is_safe_in_a_spreadsheet(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_holm(tmp_path, "1;a;04.03.2021;=1+1;zugeschlagen;43;")])
    assert ""","'=1+1",""" in quarantine_csv(ledger)


def test_the_quarantine_as_csv_moves_no_cursor(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    ingest(
        ledger, market, [write_lantern(tmp_path, "7,,Gannet,2021-01-01,2021-01-20,,\x1b]0;x\x07,sold,9,,")]
    )
    printed = quarantine_csv(ledger)
    assert "\\x1b]0;x\\x07" in printed
    assert all(sign.isprintable() or sign == "\n" for sign in printed)


def test_a_name_in_a_row_that_does_not_split_is_withheld(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    path = tmp_path / "lantern_names.csv"
    path.write_text(
        "item,sku,title,listed,ended,asked,sold_for,state,size,grade,box,buyer name\n"
        "7,,Gannet, Hi,2021-01-01,2021-01-20,,80,sold,9,,,Quentin Nobody\n"
    )
    ingest(ledger, market, [path])
    assert b"Nobody" not in ledger.path.read_bytes()
    assert "withheld" in quarantine_csv(ledger)


def test_a_name_in_a_row_that_is_recorded_is_not_kept(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    path = tmp_path / "lantern_names.csv"
    path.write_text(
        "item,sku,title,listed,ended,asked,sold_for,state,size,grade,box,buyer name\n"
        "7,,Gannet Hi,2021-01-01,2021-01-20,,80,sold,9,,,Quentin Nobody\n"
        "8,,Gannet Hi,2021-01-01,2021-02-31,,80,sold,9,,,Quentin Nobody\n"
    )
    [file] = ingest(ledger, market, [path]).files
    assert (file.recorded, file.quarantined) == (1, 1)
    assert b"Nobody" not in ledger.path.read_bytes()


UNMAPPED = "item,sku,title,listed,ended,asked,sold_for,state,size,grade,box,Collected by,extra"
UNMAPPED_ROWS = (
    '7,,Gannet Hi,2021-01-01,2021-01-20,,80,sold,UK 9,,,Quentin Nobody,"{""to"": {""tel"": ""+44 20 7946 0000""}}"',
    '8,,Gannet Hi,2021-01-01,2021-02-31,,80,sold,UK 9,,,Quentin Nobody,"{""to"": {""tel"": ""+44 20 7946 0000""}}"',
)


def _write_unmapped(folder: Path, *rows: str) -> Path:
    path = folder / "lantern_more.csv"
    path.write_text("\n".join([UNMAPPED, *rows]) + "\n")
    return path


def test_nothing_of_a_column_that_the_map_does_not_read_is_kept(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    [file] = ingest(ledger, market, [_write_unmapped(tmp_path, *UNMAPPED_ROWS)]).files
    [cells] = ledger.read("staging/quarantine_list")["cells"]
    assert file.quarantined == 1
    assert list(json.loads(cells)) == LANTERN_HEADER.split(",")
    assert b"obody" not in ledger.path.read_bytes()


def test_a_row_that_does_not_split_is_withheld_where_a_column_is_not_read(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [_write_unmapped(tmp_path, f"{UNMAPPED_ROWS[0]},more")])
    [cells] = ledger.read("staging/quarantine_list")["cells"]
    assert json.loads(cells) == {"line": "withheld: the export has columns that the map does not read"}


def test_a_row_comes_back_whole_from_its_file_once_the_map_is_fixed(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = _write_unmapped(tmp_path, UNMAPPED_ROWS[0].replace(",sold,", ",gone,"))
    ingest(ledger, market, [export])
    assert _counts(ledger) == (0, 1, 0)
    words = {**market.maps["lantern"].status_words, "gone": "sold"}
    columns = {**market.maps["lantern"].columns, "notes": "Collected by"}
    ingest(ledger, _with_map(market, "lantern", status_words=words, columns=columns), [export])
    assert sales_of(ledger).select("lot_ref", "notes").rows() == [("7", "Quentin Nobody")]


def test_an_amount_that_fees_make_too_large_puts_its_row_aside_alone(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    huge = "3;Plover Lo UK 8;04.03.2021;99999999999999;zugeschlagen;42;"
    [file] = ingest(ledger, market, [write_holm(tmp_path, SOLD, huge)]).files
    [reason] = file.reasons
    assert (file.recorded, file.quarantined) == (1, 1)
    assert reason.reason == "no all-in price can be had: the result is too large to be an amount"


@pytest.mark.parametrize("per_euro", ["0.0001", "100000000"])
def test_a_rate_that_makes_no_amount_of_a_price_puts_its_row_aside_alone(
    per_euro: str, ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    (tmp_path / "rates.csv").write_text(
        f"currency,day,per_euro\nGBP,2021-01-01,0.9\nGBP,2021-01-15,{per_euro}\n"
    )
    rated = market.model_copy(
        update={
            "rates": market.rates.model_copy(
                update={"file": str(tmp_path / "rates.csv"), "oldest_days": 9999}
            )
        }
    )
    rows = [
        f"{at},,Gannet Hi,2021-01-01,2021-01-{day},,{price},sold,UK 9,,"
        for at, day, price in ((1, "10", 800), (2, "20", 99_000_000_000_000 if per_euro < "1" else 0.0001))
    ]
    [file] = ingest(ledger, rated, [write_lantern(tmp_path, *rows)]).files
    [reason] = file.reasons
    assert (file.recorded, file.quarantined) == (1, 1)
    assert "for one EUR it is no amount" in reason.reason


def test_a_price_that_a_spreadsheet_worked_out_is_rounded_and_said(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = [
        "1,,Gannet Hi,2021-01-01,2021-01-20,99.123456,80.12512345,sold,UK 9,,",
        "2,,Gannet Hi,2021-01-01,2021-01-20,,80.00499999,sold,UK 9,,",
        "3,,Gannet Hi,2021-01-01,2021-01-20,,80.1234,sold,UK 9,,",
    ]
    [file] = ingest(ledger, market, [write_lantern(tmp_path, *rows)]).files
    sales = sales_of(ledger).sort("lot_ref")
    assert [str(price) for price in sales["price_native"]] == ["80.1300", "80.0000", "80.1234"]
    assert str(sales["ask_native"][0]) == "99.1200"
    assert (
        file.notes[-1] == "3 amounts of more than four decimals rounded half up to the currency's minor unit"
    )


def test_contact_details_in_a_title_are_masked_and_counted(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = [
        "1,,Gannet Hi UK 9 call +44 20 7946 0000,2021-01-01,2021-01-20,,80,sold,,,mail q@nobody.example",
        "2,,Gannet Hi q@nobody.example,2021-01-01,2021-02-31,,80,sold,UK 9,,",
    ]
    [file] = ingest(ledger, market, [write_lantern(tmp_path, *rows)]).files
    [sale] = sales_of(ledger).to_dicts()
    assert (sale["title"], sale["size_label"]) == ("Gannet Hi UK 9 call [telephone]", "UK 9")
    assert file.notes[-1] == "masked in the texts that are kept: 2 e-mail addresses and 1 telephone number"
    assert b"nobody.example" not in ledger.path.read_bytes()
    assert b"7946" not in ledger.path.read_bytes()


def test_a_lot_number_in_groups_is_never_masked(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    rows = [f"+44 20 7946 000{at},,Gannet Hi,2021-01-01,2021-01-20,,80,sold,UK 9,," for at in range(2)]
    ingest(ledger, market, [write_lantern(tmp_path, *rows)])
    assert sales_of(ledger)["lot_ref"].sort().to_list() == [row.split(",")[0] for row in rows]


def test_of_an_estimate_that_is_a_range_the_lower_end_is_the_asking_price(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    row = "7,,Gannet Hi,2021-01-01,2021-01-20,120 - 180,80,sold,UK 9,,"
    ingest(ledger, market, [write_lantern(tmp_path, row)])
    assert sales_of(ledger)["ask_native"].to_list() == [120]


def test_what_checks_a_parquet_file_is_loaded_only_to_read_one() -> None:
    code = "import sys, pipeline.answers.ingest.run; print('pyarrow' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
