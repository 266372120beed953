"""The workbooks and Parquet files of the corpus, made the same to the byte each time."""

import io
from collections.abc import Callable
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
