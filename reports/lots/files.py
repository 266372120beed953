"""The lots as files for elsewhere: CSV and Excel, safe to open in a spreadsheet."""

from pathlib import Path

import polars as pl

from pipeline.answers.lots.answer import LotList
from pipeline.outfile import write_file
from reports.export import table_bytes, workbook_bytes

MONEY: tuple[str, ...] = (
    *("landed_cost", "median", "low_80", "high_80", "resale_net", "walk_away_landed", "expected_gain"),
)


def lot_table(listed: LotList) -> pl.DataFrame:
    """Return the lots as one flat table: money to the cent, each heading with its unit, flags as one text."""
    currency = listed.currency.lower()
    return listed.lots.with_columns(
        pl.col(*MONEY).round(2),
        pl.col("chance_of_loss").round(3),
        pl.col("flags").list.join("; "),
    ).rename({name: f"{name}_{currency}" for name in MONEY})


def write_lot_csv(listed: LotList, path: Path) -> Path:
    """Write the lots as CSV, no text of which a spreadsheet takes for a formula; returns the path."""
    return write_table_csv(lot_table(listed), path)


def write_lot_workbook(listed: LotList, path: Path) -> Path:
    """Write the lots as an Excel workbook, every text a text; returns the path."""
    return write_table_workbook(lot_table(listed), "lots", path)


def write_table_csv(rows: pl.DataFrame, path: Path) -> Path:
    """Write a table as CSV that is safe to open in a spreadsheet; raises ReportError where it cannot."""
    return write_file(table_bytes(rows), path)


def write_table_workbook(rows: pl.DataFrame, sheet: str, path: Path) -> Path:
    """Write a table as an Excel workbook of one sheet; raises ReportError where it cannot."""
    return write_file(workbook_bytes(rows, sheet), path)
