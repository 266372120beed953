"""Excel workbooks: several sheets, title rows above the header, merged cells."""

import io
import posixpath
import re
import zipfile
from dataclasses import replace

import fastexcel
import numpy as np
import polars as pl

from pipeline.errors import ExportError, MapError, suggest
from pipeline.ingest.headers import SEARCHED_ROWS, find_header, missing_columns, name_columns
from pipeline.ingest.readers.limits import refuse_bomb, refuse_wide
from pipeline.ingest.readers.table import Hints, TextTable, text_table

_MERGED = re.compile(rb'<mergeCell [^>]*?ref="([A-Z]+)([0-9]+):([A-Z]+)([0-9]+)"')
_SHEET = re.compile(r'<sheet [^>]*?name="([^"]*)"[^>]*?r:id="([^"]*)"')
_CURRENCY = re.compile(rb"""office:currency=["']([A-Z]{3})["']""")
_TARGET = re.compile(r"<Relationship [^>]*>")


def read_workbook(content: bytes, hints: Hints, *, where: str) -> tuple[TextTable, ...]:
    """Return one table a sheet: those that the map names, or else all that have the wanted columns.

    A merged cell counts for every row that it spans. Raises ExportError for a damaged workbook or one
    without rows, MapError for a sheet that is not there.
    """
    if content.startswith(b"PK"):
        refuse_bomb(content, where=where)
    try:
        workbook = fastexcel.read_excel(content)
    except fastexcel.FastExcelError as exc:
        raise ExportError(
            f"{where} cannot be read as Excel: {str(exc).splitlines()[0]}",
            "open it in a spreadsheet and save it again (without a password).",
        ) from exc
    for sheet in hints.sheets:
        if sheet not in workbook.sheet_names:
            raise MapError(f"{where} has no sheet {sheet!r}", suggest(sheet, workbook.sheet_names))
    merged = _merged_columns(content)
    tables = [
        table
        for sheet in hints.sheets or workbook.sheet_names
        if (table := _read_sheet(workbook, sheet, merged.get(sheet, []), hints, where)) is not None
    ]
    if not tables:
        raise ExportError(f"{where} holds no rows", "export it again.")
    if len(currencies := _currencies(content)) > 1:
        note = (
            f"its cells hold amounts in {', '.join(currencies)}, of which the numbers alone are read; "
            "put the currency in a column of its own"
        )
        tables = [replace(table, notes=(*table.notes, note)) for table in tables]
    if hints.sheets:
        return tuple(tables)
    fitting = [table for table in tables if not missing_columns(table.cells.columns, hints.wanted)]
    return tuple(fitting or tables)


def _read_sheet(
    workbook: fastexcel.ExcelReader, sheet: str, merged: list[tuple[int, int, int]], hints: Hints, where: str
) -> TextTable | None:
    """Return the sheet's table, or None where the sheet holds nothing."""
    try:
        cells: pl.DataFrame = workbook.load_sheet(sheet, header_row=None, dtypes="string").to_polars()
    except fastexcel.FastExcelError as exc:
        raise ExportError(
            f"{where}, sheet {sheet!r}: {str(exc).splitlines()[0]}", "save the workbook again."
        ) from exc
    if cells.height == 0 or cells.width == 0:
        return None
    top = [list(row) for row in cells.head(SEARCHED_ROWS).rows()]
    header_at = hints.header_row - 1 if hints.header_row else find_header(top, hints.wanted)
    if header_at is None:
        return None
    if header_at >= len(top) or not any(top[header_at]):
        raise ExportError(
            f"{where}, sheet {sheet!r} has no header in row {hints.header_row}: that row is empty or not there",
            "correct `header_row` in the export map, or leave it out.",
        )
    names = name_columns(top[header_at])
    refuse_wide(names, where=f"{where}, sheet {sheet!r}")
    cells = cells.rename(dict(zip(cells.columns, names, strict=True)))
    rows = pl.Series("row_number", range(1, cells.height + 1), dtype=pl.Int64)
    cells = _spread_merged(cells, names, merged)
    return text_table(
        cells.slice(header_at + 1),
        rows.slice(header_at + 1),
        sheet=sheet,
        numbers_are_plain=True,
    )


def _spread_merged(cells: pl.DataFrame, names: list[str], merged: list[tuple[int, int, int]]) -> pl.DataFrame:
    """Give the value of each merged cell to every row that it spans, in its first column."""
    spans: dict[int, list[tuple[int, int]]] = {}
    for column, first, last in merged:
        if column < len(names) and first < cells.height:
            spans.setdefault(column, []).append((first, min(last, cells.height - 1)))
    for column, rows in spans.items():
        firsts, lasts = np.array(rows, dtype=np.int64).T
        starts, steps = np.zeros(cells.height, dtype=bool), np.zeros(cells.height + 1, dtype=np.int64)
        starts[firsts] = True
        np.add.at(steps, firsts, 1)
        np.add.at(steps, lasts + 1, -1)
        name = names[column]
        # within a span only its first cell is filled; a blank first cell must not take the value above
        value = pl.when(pl.lit(pl.Series(starts))).then(pl.col(name).fill_null("")).otherwise(pl.col(name))
        spanned = pl.lit(pl.Series(np.cumsum(steps)[:-1] > 0))
        cells = cells.with_columns(
            pl.when(spanned).then(value.forward_fill()).otherwise(pl.col(name)).alias(name)
        )
    return cells


def _merged_columns(content: bytes) -> dict[str, list[tuple[int, int, int]]]:
    """Return, by sheet, (column, first row, last row) of the cells merged over rows, from zero.

    Only the .xlsx format is looked into; other workbooks have no merged cells here.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        book = archive.read("xl/workbook.xml").decode("utf-8")
        links = archive.read("xl/_rels/workbook.xml.rels").decode("utf-8")
    except (zipfile.BadZipFile, KeyError, UnicodeDecodeError):
        return {}
    targets = {}
    for link in _TARGET.findall(links):
        parts = dict(re.findall(r'(\w+)="([^"]*)"', link))
        targets[parts.get("Id", "")] = posixpath.normpath(
            posixpath.join("/xl", parts.get("Target", ""))
        ).lstrip("/")
    merged: dict[str, list[tuple[int, int, int]]] = {}
    for name, link in _SHEET.findall(book):
        try:
            sheet = archive.read(targets[link])
        except KeyError:
            continue
        merged[_unescaped(name)] = [
            (_column_number(left), int(top) - 1, int(bottom) - 1)
            for left, top, _, bottom in (
                tuple(part.decode() for part in found) for found in _MERGED.findall(sheet)
            )
            if bottom != top
        ]
    return merged


def _currencies(content: bytes) -> list[str]:
    """Return the currencies of the amounts that the cells of an OpenDocument sheet hold, in alphabetical order."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            found = _CURRENCY.findall(archive.read("content.xml"))
    except (zipfile.BadZipFile, KeyError):
        return []
    return sorted({code.decode("ascii") for code in found})


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number - 1


def _unescaped(name: str) -> str:
    for entity, sign in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&apos;", "'"), ("&amp;", "&")):
        name = name.replace(entity, sign)
    return name
