"""What every reader returns: a table of text cells, the row each came from, and the rows that could not be read."""

from collections.abc import Collection
from dataclasses import dataclass, field

import polars as pl

FAULT_SCHEMA: dict[str, pl.DataType] = {
    "row_number": pl.Int64(),
    "reason": pl.String(),
    "cells": pl.String(),
}


@dataclass(frozen=True)
class Hints:
    """What an export map says of a file before it is read; nothing of it is needed.

    `wanted` holds the names of the columns that the map reads: they tell the header from a title row. `records`
    names the list of a nested file that holds its records.
    """

    encoding: str | None = None
    delimiter: str | None = None
    header_row: int | None = None
    sheets: tuple[str, ...] = ()
    wanted: Collection[str] = ()
    records: str | None = None


@dataclass(frozen=True)
class TextTable:
    """One sheet of an export (or the whole of a file without sheets), all cells as text.

    cells
        One column a column of the export, all String; an empty cell is null.
    row_numbers
        Int64, one a row of `cells`: its line or row in the file, counted from 1.
    faults
        row_number Int64, reason String, cells String (JSON): rows that cannot be split into cells.
    notes
        Sentences about the file as a whole (a guessed encoding, damaged characters).
    numbers_are_plain
        True where the format itself stores numbers and days (Excel, Parquet, JSON), so that a cell such
        as 1234.5 has its decimal point whatever the map says.
    encoding
        How the bytes of a text format were read; None for other formats.
    records
        The list of a nested file whose members are the rows; None where the rows are not nested.
    """

    sheet: str
    cells: pl.DataFrame
    row_numbers: pl.Series
    faults: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=FAULT_SCHEMA))
    notes: tuple[str, ...] = ()
    numbers_are_plain: bool = False
    encoding: str | None = None
    records: str | None = None

    @property
    def rows_read(self) -> int:
        """The number of rows that the sheet holds, those that could not be read included."""
        return self.cells.height + self.faults.height


def text_table(
    cells: pl.DataFrame,
    row_numbers: pl.Series,
    *,
    sheet: str = "",
    faults: pl.DataFrame | None = None,
    notes: tuple[str, ...] = (),
    numbers_are_plain: bool = False,
    encoding: str | None = None,
    records: str | None = None,
) -> TextTable:
    """Return the table with blank cells as null and without the rows that hold nothing at all."""
    blank = [name for name in cells.columns if cells[name].str.contains(r"^\s*$").any()]
    filled = cells.with_columns(
        pl.when(pl.col(name).str.contains(r"\S")).then(pl.col(name)).alias(name) for name in blank
    )
    holds_something = filled.select(pl.any_horizontal(pl.all().is_not_null())).to_series()
    if not filled.width or not holds_something.all():
        filled = filled.filter(holds_something) if filled.width else filled
        row_numbers = row_numbers.filter(holds_something) if filled.width else row_numbers.clear()
    return TextTable(
        sheet=sheet,
        cells=filled,
        row_numbers=row_numbers.cast(pl.Int64).alias("row_number"),
        faults=pl.DataFrame(schema=FAULT_SCHEMA) if faults is None else faults,
        notes=notes,
        numbers_are_plain=numbers_are_plain,
        encoding=encoding,
        records=records,
    )
