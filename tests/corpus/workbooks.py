"""The workbooks and Parquet files of the corpus, made the same to the byte each time."""

import io
import zipfile
from collections.abc import Callable, Sequence
from datetime import date, datetime
from typing import Any

import polars as pl
import xlsxwriter

Sheet = Callable[[Any, Any], None]


def workbook(**sheets: list[list[Any]]) -> bytes:
    """Return a workbook with one sheet a keyword: rows of cells; a cell (rows, value) is merged downwards."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    book.set_properties({"created": datetime(2026, 1, 1)})
    day_format = book.add_format({"num_format": "yyyy-mm-dd"})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name.replace("_", " "))
        for at, row in enumerate(rows):
            for column, cell in enumerate(row):
                if isinstance(cell, tuple):
                    sheet.merge_range(at, column, at + cell[0] - 1, column, cell[1])
                elif isinstance(cell, date):
                    sheet.write_datetime(at, column, datetime(cell.year, cell.month, cell.day), day_format)
                elif cell is not None:
                    sheet.write(at, column, cell)
    book.close()
    return buffer.getvalue()


def parquet(**columns: list[Any]) -> bytes:
    """Return a Parquet file of the columns."""
    buffer = io.BytesIO()
    pl.DataFrame(columns).write_parquet(buffer)
    return buffer.getvalue()


_NAMES = " ".join(
    f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text")
)


def sheet_of_texts(*rows: Sequence[str | tuple[str, str, str]]) -> bytes:
    """Return an OpenDocument sheet: cells of text, and amounts as (number, currency, text shown)."""
    lines = "".join(f"<table:table-row>{''.join(map(_open_cell, row))}</table:table-row>" for row in rows)
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {_NAMES} office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="Sale">{lines}</table:table></office:spreadsheet></office:body>'
        "</office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    listed = f'<m:file-entry m:full-path="/" m:media-type="{kind}"/>'
    manifest = (
        f'<m:manifest xmlns:m="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">{listed}</m:manifest>'
    )
    parts = {"mimetype": kind, "META-INF/manifest.xml": manifest, "content.xml": content}
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, part in parts.items():
            archive.writestr(zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0)), part)
    return buffer.getvalue()


def _open_cell(cell: str | tuple[str, str, str]) -> str:
    if isinstance(cell, str):
        return f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>'
    number, currency, shown = cell
    return (
        f'<table:table-cell office:value-type="currency" office:currency="{currency}" office:value="{number}">'
        f"<text:p>{shown}</text:p></table:table-cell>"
    )
