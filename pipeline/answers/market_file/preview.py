"""The first rows of a file as a map would read them, before the map is kept."""

from datetime import date
from pathlib import Path

import polars as pl

from pipeline.config import Market
from pipeline.ingest.choice import read_mapped
from pipeline.ingest.money import market_rates
from pipeline.ingest.normalise import normalise
from pipeline.ingest.readers import TextTable
from pipeline.ingest.readers.export import open_export

ROWS = 10
_SHOWN = (
    "row_number",
    "status",
    "day",
    "title",
    "size_label",
    "grade",
    "price_native",
    "currency",
    "price_paid",
)


def first_rows(path: Path, market: Market, map_name: str, *, as_of: date) -> pl.DataFrame:
    """Return the first ROWS rows of a file's longest sheet as the map reads them.

    Columns: row_number, status, day, title, size_label, grade, price_native, currency, price_paid, and reason, why a
    row cannot be read (null where it can). Raises MapError and ExportError as reading the file does.
    """
    export = read_mapped(open_export(path), market, map_name, ("sales", "stock", "lots"))
    table = max(export.tables, key=lambda one: one.cells.height)
    first = TextTable(
        sheet=table.sheet,
        cells=table.cells.head(ROWS),
        row_numbers=table.row_numbers.head(ROWS),
        numbers_are_plain=table.numbers_are_plain,
    )
    read = normalise(first, export.export_map, market, market_rates(market), as_of=as_of, where=str(path))
    staged = read.staged.with_columns(
        day=pl.coalesce("sold_on", "closed_on", "offered_on"), reason=pl.lit(None, dtype=pl.String)
    ).select(*_SHOWN, "reason")
    refused = read.quarantine.select("row_number", "reason")
    return pl.concat([staged, refused], how="diagonal").sort("row_number")
