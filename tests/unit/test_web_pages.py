"""Pages that mean harm are refused in words; what is no text of a table is not read."""

from pathlib import Path

import pytest

from pipeline.errors import ExportError
from pipeline.ingest.proposal import propose_map
from pipeline.ingest.readers import Hints, limits
from pipeline.ingest.readers.web_page import read_web_page
from tests.fuzz import MARKET

ROW = b"<tr><td>1<td>a</tr>"
HEADER = b"<tr><th>lot<th>title</tr>"


def test_a_page_nested_a_thousand_deep_is_refused() -> None:
    page = b"<html><body>" + b"<div>" * 1000 + b"<table>" + HEADER + ROW
    with pytest.raises(ExportError, match=r"x\.html cannot be read as a web page: it is nested too deep"):
        read_web_page(page, Hints(), where="x.html")


def test_tables_nested_in_one_another_are_each_read_once() -> None:
    page = b"<table><tr><td>lot<td>title</tr><tr><td>1<td>a" * 30 + b"</tr></table>" * 30
    tables = read_web_page(page, Hints(), where="x.html")
    assert [table.cells.rows() for table in tables] == [[("1", "a")]] * 30


def test_entities_that_a_page_declares_are_not_expanded() -> None:
    names = b"".join(b'<!ENTITY a%d "%s">' % (n + 1, b"&a%d;" % n * 10) for n in range(9))
    page = (
        b'<!DOCTYPE html [<!ENTITY a0 "aaaaaaaaaa">'
        + names
        + b"]><table>"
        + HEADER
        + b"<tr><td>&a9;<td>b</tr></table>"
    )
    [table] = read_web_page(page, Hints(), where="x.html")
    assert table.cells.rows() == [("&a9;", "b")]


def test_an_entity_that_names_a_file_is_not_read() -> None:
    page = (
        b'<!DOCTYPE html [<!ENTITY f SYSTEM "file:///etc/hostname">]><table>'
        + HEADER
        + b"<tr><td>&f;<td>b</tr></table>"
    )
    [table] = read_web_page(page, Hints(), where="x.html")
    assert table.cells.rows() == [("&f;", "b")]


def test_a_table_of_too_many_cells_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MOST_CELLS", 1_000)
    with pytest.raises(ExportError, match=r"a table spans 1,002 cells or more, and 1,000 are the most"):
        read_web_page(b"<table>" + HEADER + ROW * 2000 + b"</table>", Hints(), where="x.html")


def test_cells_that_span_a_million_rows_and_columns_span_those_that_there_are() -> None:
    page = (
        b"<table>"
        + HEADER
        + b"<tr><td rowspan=1000000>1<td rowspan=9 colspan=1000000>a</tr><tr></tr></table>"
    )
    [table] = read_web_page(page, Hints(), where="x.html")
    assert table.cells.rows() == [("1", "a"), ("1", "a")]


def test_a_heading_across_the_page_adds_no_columns() -> None:
    [table] = read_web_page(
        b"<table>" + HEADER + b"<tr><td colspan=99>Spring</tr>" + ROW, Hints(), where="x.html"
    )
    assert table.cells.columns == ["lot", "title"]


def test_a_table_of_thousands_of_columns_is_refused() -> None:
    page = b"<table><tr>" + b"<th>a" * 5000 + b"</tr><tr>" + b"<td>1" * 5000 + b"</tr></table>"
    with pytest.raises(ExportError, match="has 5,000 columns, and 1,000 are the most"):
        read_web_page(page, Hints(), where="x.html")


@pytest.mark.parametrize("span", ["-1", "x", "", "0", "１", "9" * 400])
def test_a_span_that_is_no_number_of_rows_loses_no_cell(span: str) -> None:
    page = f'<table><tr><th>lot<th>title</tr><tr><td rowspan="{span}">1<td>a</tr></table>'
    [table] = read_web_page(page.encode(), Hints(), where="x.html")
    assert table.cells.rows() == [("1", "a")]


def test_a_page_with_a_mark_of_utf16_is_read() -> None:
    [table] = read_web_page(
        "<table><tr><td>lot</tr><tr><td>ł</tr></table>".encode("utf-16"), Hints(), where="x.html"
    )
    assert table.cells.rows() == [("ł",)]


def test_a_map_is_proposed_for_the_longest_table_of_a_page(tmp_path: Path) -> None:
    page = tmp_path / "sales.html"
    page.write_bytes(
        b"<table><tr><td>menu</tr><tr><td>home</tr></table><table>" + HEADER + ROW * 3 + b"</table>"
    )
    assert [column.column for column in propose_map(page, MARKET).columns] == ["lot", "title"]
