"""Files that are read together: what is no export is left alone, and what cannot be read is said at once."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.config import Market
from pipeline.errors import ExportError, MapError
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ingest.run import ingest_files
from pipeline.ledger import Ledger, open_ledger
from pipeline.outfile import write_file
from tests.exports import AS_OF, LOADED_AT, ingest, write_holm, write_lantern

SOLD = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"
BROKEN = "3;Plover Lo UK 8;31.02.2021;80,00;zugeschlagen;42;"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _sales(ledger: Ledger) -> int:
    return int(ledger.read("staging/row_counts").row(0)[2])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_a_list_of_quarantine_beside_the_exports_is_not_read_as_one(
    encoding: str, ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export, listed = write_holm(tmp_path, SOLD, BROKEN), tmp_path / "quarantine.csv"
    ingest(ledger, market, [export])
    listed.write_text(quarantine_csv(ledger), encoding=encoding)
    run = ingest(ledger, market, [export, listed])
    assert run.notes[0] == f"{listed}: not read: it is a list of rows in quarantine that pairband wrote"


def test_a_list_of_quarantine_alone_is_refused(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    listed = tmp_path / "quarantine.csv"
    listed.write_text(quarantine_csv(ledger))
    with pytest.raises(MapError, match="a list of rows in quarantine that pairband wrote, and no sales"):
        ingest(ledger, market, [listed])


def test_a_table_that_pairband_wrote_is_left_alone(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    table = write_file(b"lot,value\n1,100\n", tmp_path / "lots_valued.csv")
    run = ingest(ledger, market, [write_holm(tmp_path, SOLD), table])
    assert run.notes[0] == f"{table}: not read: pairband wrote it"


def test_an_export_that_pairband_wrote_for_the_demo_is_read(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_holm(tmp_path, SOLD)
    content = export.read_bytes()
    export.unlink()
    assert [file.recorded for file in ingest(ledger, market, [write_file(content, export)]).files] == [1]


@pytest.mark.parametrize("name", ["~$holm_2021.xlsx", ".~lock.holm_2021.xlsx#"])
def test_the_lock_file_of_an_open_workbook_is_left_alone(
    name: str, ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    lock = tmp_path / name
    lock.write_bytes(b"\x05owner")
    run = ingest(ledger, market, [write_holm(tmp_path, SOLD), lock])
    assert run.notes[0] == f"{lock}: not read: it is what a spreadsheet program leaves while a file is open"


def _with_unreadable(tmp_path: Path) -> list[Path]:
    empty, other = tmp_path / "holm_empty.csv", tmp_path / "elsewhere.csv"
    empty.touch()
    other.write_text("a,b\n1,2\n")
    return [write_holm(tmp_path, SOLD), empty, other]


def test_all_files_that_cannot_be_read_are_named_at_once(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    with pytest.raises(
        ExportError, match=r"2 of 3 files cannot be read(?s:.*)holm_empty.csv is empty(?s:.*)elsewhere.csv"
    ):
        ingest(ledger, market, _with_unreadable(tmp_path))


def test_nothing_is_recorded_where_a_file_cannot_be_read(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    with pytest.raises(ExportError, match="--skip-unreadable to read the others without them"):
        ingest(ledger, market, _with_unreadable(tmp_path))
    assert _sales(ledger) == 0


def test_files_that_cannot_be_read_are_left_out_where_the_owner_says_so(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    files = _with_unreadable(tmp_path)
    run = ingest_files(ledger, market, files, skip_unreadable=True, as_of=AS_OF, loaded_at=LOADED_AT)
    assert [file.recorded for file in run.files] == [1]
    assert run.notes[0] == f"{files[1]}: not read: {files[1]} is empty"


def test_where_no_file_can_be_read_the_reasons_are_told_all_the_same(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    with pytest.raises(ExportError, match="2 of 2 files cannot be read"):
        ingest_files(
            ledger,
            market,
            _with_unreadable(tmp_path)[1:],
            skip_unreadable=True,
            as_of=AS_OF,
            loaded_at=LOADED_AT,
        )


def test_one_file_of_several_that_cannot_be_read_is_told_with_how_to_go_on(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    bad = write_lantern(tmp_path, name="lantern_bad.csv")
    bad.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(64))
    with pytest.raises(
        ExportError, match=r"holds a picture(?s:.*)or say --skip-unreadable to read the others without it"
    ):
        ingest(ledger, market, [write_holm(tmp_path, SOLD), bad])
