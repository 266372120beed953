"""Files of pairs that are not sales: upcoming lots, and the stock list."""

from datetime import date
from pathlib import Path

import polars as pl

from pipeline.config import Market
from pipeline.ingest.choice import read_mapped
from pipeline.ingest.money import market_rates
from pipeline.ingest.normalise import normalise
from pipeline.ingest.readers.export import open_export


def read_lots(
    path: Path, market: Market, *, as_of: date, map_name: str | None = None
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Read a file of pairs (a map with `holds` lots or stock) with the readers and rules of ingest.

    Returns one row a pair (sheet, row_number, and the columns of a sale record that one row can tell;
    status is "open", `price_native` the present bid or the cost), and the rows that cannot be read (sheet,
    row_number, field, value, reason, cells). Raises ExportError, MapError.
    """
    export = read_mapped(open_export(path), market, map_name, ("lots", "stock"))
    rates = market_rates(market)
    read = [
        normalise(table, export.export_map, market, rates, as_of=as_of, where=str(path))
        for table in export.tables
    ]
    pairs = pl.concat([rows.staged for rows in read]).sort("sheet", "row_number")
    return pairs, pl.concat([rows.quarantine for rows in read]).sort("sheet", "row_number")
