"""Files that mean harm are refused in words, before they can fill the memory; rows that do are put aside."""

import io
import os
import zipfile
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import ExportMap, Market
from pipeline.errors import ExportError
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ingest.readers import Hints, TextTable, limits, read_tables
from pipeline.ingest.readers.export import open_export
from pipeline.ingest.readers.parquet import read_parquet
from pipeline.ingest.readers.workbook import read_workbook
from pipeline.ledger import open_ledger
from pipeline.ledger.checks import run_checks
from pipeline.schema import SOURCE_FIELDS
from tests.corpus.workbooks import parquet, workbook
from tests.exports import ingest, write_holm
from tests.fuzz import odd_rows

BOOK = workbook(Sale=[["lot", "title"], [1, "a"]])
SHEET, SHARED = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"


def _with_part(content: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Return a workbook with one part of its archive changed."""
    buffer = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            new.writestr(part, change(old.read(part)) if part == name else old.read(part))
    return buffer.getvalue()


def _with_cell(place: bytes) -> bytes:
    cell = b'<row r="2"><c r="' + place + b'"><v>1</v></c></row></sheetData>'
    return _with_part(BOOK, SHEET, lambda sheet: sheet.replace(b"</sheetData>", cell))


def _read(path: Path, content: bytes) -> list[TextTable]:
    path.write_bytes(content)
    return list(read_tables(open_export(path), Hints()))


def test_a_workbook_that_unpacks_to_far_more_than_it_is_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "LARGEST_UNPACKED", 3_000_000)
    bomb = _with_part(
        BOOK, SHEET, lambda sheet: sheet.replace(b"</sheetData>", b" " * 4_000_000 + b"</sheetData>")
    )
    assert len(bomb) < 20_000
    with pytest.raises(ExportError, match="unpacks to more than 3,000,000 bytes"):
        read_workbook(bomb, Hints(), where="x.xlsx")


def test_a_workbook_that_states_a_false_size_of_a_part_is_refused() -> None:
    whole = BOOK.index(SHEET.encode(), BOOK.index(b"PK\x01\x02"))
    lying = bytearray(BOOK)
    lying[whole - 46 + 24 : whole - 46 + 28] = (10).to_bytes(4, "little")
    with pytest.raises(ExportError, match="cannot be read as Excel"):
        read_workbook(bytes(lying), Hints(), where="x.xlsx")


def test_a_workbook_with_a_damaged_part_is_refused() -> None:
    part = BOOK.index(SHEET.encode()) + len(SHEET)
    damaged = BOOK[:part] + bytes(byte ^ 0xFF for byte in BOOK[part : part + 40]) + BOOK[part + 40 :]
    with pytest.raises(ExportError, match="cannot be read as Excel: Error -3 while decompressing"):
        read_workbook(damaged, Hints(), where="x.xlsx")


@pytest.mark.parametrize("place", [b"XFD1048576", b"A9999999999", b"ZZZ20000"])
def test_a_cell_far_from_the_others_does_not_span_a_sheet_of_billions(place: bytes) -> None:
    with pytest.raises(ExportError, match=r"spans [\d,]+ cells"):
        read_workbook(_with_cell(place), Hints(), where="x.xlsx")


def test_a_sheet_of_many_rows_is_no_bomb() -> None:
    [table] = read_workbook(_with_cell(b"C100000"), Hints(wanted=("lot",)), where="x.xlsx")
    assert table.cells.height == 2


def test_rows_that_are_repeated_millions_of_times_are_refused() -> None:
    row = b'<table:table-row table:number-rows-repeated="1000000">'
    cell = b'<table:table-cell table:number-columns-repeated="900" office:value="1"/>'
    sheet = b"<table:table>" + row + cell + b"</table:table-row></table:table>"
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("content.xml", sheet)
    with pytest.raises(ExportError, match="spans 900,000,000 cells"):
        read_workbook(buffer.getvalue(), Hints(), where="x.ods")


def test_entities_that_name_one_another_are_not_expanded() -> None:
    names = b"".join(b'<!ENTITY a%d "%s">' % (n + 1, b"&a%d;" % n * 10) for n in range(9))
    bomb = _with_part(
        BOOK,
        SHARED,
        lambda texts: texts.replace(
            b"?>", b'?><!DOCTYPE l [<!ENTITY a0 "aaaaaaaaaa">' + names + b"]>", 1
        ).replace(b"<t>a</t>", b"<t>&a9;</t>"),
    )
    with pytest.raises(ExportError, match="cannot be read as Excel"):
        read_workbook(bomb, Hints(), where="x.xlsx")


def test_cells_merged_by_the_thousand_are_spread_at_once() -> None:
    merged = b"".join(b'<mergeCell ref="A%d:A%d"/>' % (row, row + 1) for row in range(2, 60_000, 2))
    book = _with_part(
        workbook(Sale=[["lot", "title"], [(2, 7), "a"], [None, "b"]]),
        SHEET,
        lambda sheet: sheet.replace(b"</mergeCells>", merged + b"</mergeCells>"),
    )
    [table] = read_workbook(book, Hints(), where="x.xlsx")
    assert table.cells.rows() == [("7", "a"), ("7", "b")]


def test_a_parquet_file_that_unpacks_to_far_more_than_it_is_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(limits, "LARGEST_UNPACKED", 3_000_000)
    bomb = parquet(title=["x" * 1000] * 4000)
    assert len(bomb) < 10_000
    with pytest.raises(ExportError, match="unpacks to more than 3,000,000 bytes"):
        read_parquet(bomb, where="x.parquet")


def test_a_parquet_file_of_too_many_values_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MOST_VALUES", 999)
    with pytest.raises(ExportError, match="holds 1,000 values, and 999 are the most"):
        read_parquet(parquet(lot=[1] * 500, price=[2.0] * 500), where="x.parquet")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("x.csv", (",".join(f"c{n}" for n in range(5000)) + "\n" + "1," * 4999 + "1\n").encode()),
        ("x.jsonl", ("{" + ",".join(f'"k{n}":{n}' for n in range(5000)) + "}\n").encode()),
        ("x.parquet", parquet(**{f"c{n}": [1] for n in range(1100)})),
    ],
)
def test_a_file_of_thousands_of_columns_is_refused(tmp_path: Path, name: str, content: bytes) -> None:
    with pytest.raises(ExportError, match=r"has [\d,]+ columns, and 1,000 are the most"):
        _read(tmp_path / name, content)


def test_a_file_of_a_thousand_columns_is_read(tmp_path: Path) -> None:
    [table] = _read(
        tmp_path / "x.csv", (",".join(f"c{n}" for n in range(1000)) + "\n" + "1," * 999 + "1\n").encode()
    )
    assert (table.cells.shape, table.faults.height) == ((1, 1000), 0)


def test_a_header_of_a_million_columns_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="more than 1,000,000 characters"):
        _read(tmp_path / "x.csv", b",".join(b"c%d" % n for n in range(1_000_000)))


def test_a_row_of_two_million_characters_is_put_aside_with_its_beginning(tmp_path: Path) -> None:
    [table] = _read(tmp_path / "x.csv", b"lot,title\n1,a\n2," + b"b" * 2_000_000 + b"\n3,c\n")
    assert table.cells["lot"].to_list() == ["1", "3"]
    [fault] = table.faults.to_dicts()
    assert (fault["row_number"], len(fault["cells"]) < 2000) == (3, True)


def test_a_cell_longer_than_any_spreadsheets_puts_its_row_in_quarantine(
    market: Market, tmp_path: Path
) -> None:
    long = "1;" + "Gannet Hi " * 4000 + ";04.03.2021;600,00;zugeschlagen;43;"
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        [file] = ingest(
            ledger, market, [write_holm(tmp_path, long, "2;a;04.03.2021;60,00;zugeschlagen;43;")]
        ).files
    assert (file.recorded, file.quarantined) == (1, 1)
    assert "more than 32,767 characters" in file.reasons[0].reason


def test_a_cell_of_gigabytes_is_refused_by_its_file(tmp_path: Path) -> None:
    huge = tmp_path / "x.csv"
    with huge.open("wb") as file:
        file.write(b"lot,title\n1,")
        file.truncate(4_000_000_000)  # a sparse file: nothing of it is on disk
    with pytest.raises(ExportError, match="has 4,000,000,000 bytes, and 1,000,000,000 are the most"):
        open_export(huge)


def test_nothing_but_a_file_is_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "device.csv").symlink_to("/dev/zero")
    for name, kind in (("pipe", "a pipe"), ("folder", "a folder"), ("device", "a device")):
        with pytest.raises(ExportError, match=f"{name}.csv is not a plain file: it is {kind}"):
            open_export(tmp_path / f"{name}.csv")


def test_a_link_is_followed_to_the_file_that_it_names(tmp_path: Path) -> None:
    (tmp_path / "there.csv").write_text("lot,title\n1,a\n")
    (tmp_path / "here.csv").symlink_to(tmp_path / "there.csv")
    assert open_export(tmp_path / "here.csv").size_bytes == 14


def test_a_link_to_nothing_is_no_file(tmp_path: Path) -> None:
    (tmp_path / "here.csv").symlink_to(tmp_path / "nowhere.csv")
    with pytest.raises(ExportError, match="there is no file"):
        open_export(tmp_path / "here.csv")


@pytest.mark.parametrize(
    "content", [b"lot,title\n1,a\x00b\n", b"\x00" * 100, b"lot,title\n" * 50 + b"1,\x00\n"]
)
def test_zero_bytes_are_no_text(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(ExportError, match=r"not text: it holds zero bytes|is empty"):
        _read(tmp_path / "x.csv", content)


def test_names_of_columns_that_are_sql_or_paths_stay_names(tmp_path: Path) -> None:
    names = ["../../etc/passwd", "'); DROP TABLE sales; --", '"x" FROM read_csv(1)', "$1"]
    path = tmp_path / "x.jsonl"
    pl.DataFrame({name: ["a"] for name in names}).write_ndjson(path)
    [table] = read_tables(open_export(path), Hints())
    assert table.cells.columns == names
    assert table.cells.rows() == [("a",) * 4]


def _write_odd(path: Path) -> int:
    """Write a file with an odd cell of each kind in each field; return how many rows it has."""
    columns = odd_rows()
    frame = pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String))
    if path.suffix == ".csv":
        frame.with_columns(pl.all().str.replace_all("\x00", "")).write_csv(path, quote_style="always")
    elif path.suffix == ".jsonl":
        frame.write_ndjson(path)
    elif path.suffix == ".json":
        frame.write_json(path)
    elif path.suffix == ".parquet":
        frame.write_parquet(path)
    else:
        path.write_bytes(workbook(Sale=[frame.columns, *map(list, frame.rows())]))
    return frame.height


@pytest.mark.parametrize("ending", ["csv", "jsonl", "json", "parquet", "xlsx"])
def test_an_odd_cell_in_any_field_puts_at_most_its_own_row_aside(
    ending: str, market: Market, tmp_path: Path
) -> None:
    path = tmp_path / f"odd.{ending}"
    count = _write_odd(path)
    odd = {
        "venue": "Lantern Dock",
        "files": path.name,
        "price_basis": "all-in",
        "columns": {name: name for name in SOURCE_FIELDS},
    }
    mapped = market.model_copy(update={"maps": {"odd": ExportMap.model_validate(odd)}})
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        [file] = ingest(ledger, mapped, [path]).files
        assert run_checks(ledger) == ()
        assert quarantine_csv(ledger)
    assert file.read == count == file.recorded + file.duplicates + file.quarantined + file.put_aside
    assert file.recorded > count // 2


@pytest.mark.parametrize("basis", ["hammer", "all-in", "net"])
@pytest.mark.parametrize("mark", [".", ","])
def test_an_odd_amount_puts_its_own_row_aside_on_any_basis(
    basis: str, mark: str, market: Market, tmp_path: Path
) -> None:
    path = tmp_path / "odd.parquet"
    count = _write_odd(path)
    odd = {
        "venue": "Holm Sound Auctions",
        "files": path.name,
        "price_basis": basis,
        "decimal_mark": mark,
        "currency": "EUR",
        "columns": {name: name for name in SOURCE_FIELDS if name not in ("venue", "currency")},
    }
    mapped = market.model_copy(update={"maps": {"odd": ExportMap.model_validate(odd)}})
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        [file] = ingest(ledger, mapped, [path]).files
    assert file.read == count == file.recorded + file.duplicates + file.quarantined + file.put_aside
    assert file.recorded > count // 2


@pytest.mark.parametrize("shape", ["{0}\n{1}\n", "[{0},{1}]"])
def test_a_title_cut_amid_a_character_is_read_with_a_sign_for_the_half(shape: str, tmp_path: Path) -> None:
    cut = r'{"title":"Gannet \ud83d"}', r'{"title":"\ud83d\udc5f \\ud83d"}'
    [table] = _read(tmp_path / "x.json", shape.format(*cut).encode())
    assert table.cells["title"].to_list() == ["Gannet \ufffd", "\U0001f45f \\ud83d"]
    assert table.notes == ("characters that are cut in half and read as \ufffd: 1",)
