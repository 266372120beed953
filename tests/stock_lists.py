"""Small invented stock lists for the tests of the stock, written where a test wants them."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.ingest.run import FileOutcome, ingest_files
from pipeline.ledger import Ledger
from tests.exports import AS_OF, LOADED_AT

HEADER = "number,bought,cost,work,ask,currency,where,until,title,size,grade"
COLUMNS = {
    "stock_ref": "number",
    "bought_on": "bought",
    "price_native": "cost",
    "work_paid": "work",
    "ask_native": "ask",
    "currency": "currency",
    "offered_at": "where",
    "closed_on": "until",
    "title": "title",
    "size_label": "size",
    "grade": "grade",
}
GANNET = "Gannet Hi Buoy Red,UK 9,7"


def stock_map(**keys: Any) -> ExportMap:
    """Return the map of such a list, with these keys in the place of the usual ones."""
    usual: dict[str, Any] = {
        "venue": "Holm Sound Auctions",
        "files": "stock*.csv",
        "holds": "stock",
        "price_basis": "all-in",
        "columns": COLUMNS,
    }
    return ExportMap.model_validate(usual | keys)


def with_stock(market: Market, maps: Mapping[str, ExportMap] | None = None, **keys: Any) -> Market:
    """Return the market with a map of stock lists beside its other maps, or with these maps."""
    return market.model_copy(update={"maps": dict(market.maps) | (maps or {"stock": stock_map(**keys)})})


def write_stock(folder: Path, *rows: str, name: str = "stock.csv", header: str = HEADER) -> Path:
    """Write a stock list (UTF-8, decimal points): one line a pair."""
    path = folder / name
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def pair(
    number: str = "A1",
    bought: str = "2026-01-10",
    cost: str = "100",
    work: str = "",
    ask: str = "",
    currency: str = "EUR",
    where: str = "",
    until: str = "",
    what: str = GANNET,
) -> str:
    """Return one line of a stock list."""
    return f"{number},{bought},{cost},{work},{ask},{currency},{where},{until},{what}"


def read_stock(
    ledger: Ledger, market: Market, folder: Path, *rows: str, on: date | None = None, name: str = "stock.csv"
) -> FileOutcome:
    """Read a stock list into the ledger, as the one of a day."""
    export = write_stock(folder, *rows, name=name)
    [file] = ingest_files(ledger, market, [export], listed_on=on, as_of=AS_OF, loaded_at=LOADED_AT).files
    return file


def listings(ledger: Ledger) -> pl.DataFrame:
    """Return every pair of every list, by days and rows."""
    return pl.DataFrame(
        ledger.connection.sql("FROM stock_listings ORDER BY listed_on, map_name, sheet, row_number")
    )
