"""Small invented exports for the tests of ingest, written where a test wants them."""

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

from pipeline.config import Market
from pipeline.ingest.run import IngestRun, ingest_files
from pipeline.ledger import Ledger

AS_OF = date(2026, 6, 30)
LOADED_AT = datetime(2026, 6, 30, 12)
HOLM_HEADER = "Los;Bezeichnung;Datum;Zuschlag;Stand;Größe;Bemerkung"
LANTERN_HEADER = "item,sku,title,listed,ended,asked,sold_for,state,size,grade,box"


def write_holm(folder: Path, *rows: str, name: str = "holm_2021.csv") -> Path:
    """Write an auction's export (hammer prices in euros, cp1252, decimal commas): one line a row."""
    path = folder / name
    path.write_bytes(("\n".join([HOLM_HEADER, *rows]) + "\n").encode("cp1252"))
    return path


def write_lantern(folder: Path, *rows: str, name: str = "lantern_2021.csv") -> Path:
    """Write a listing site's export (all-in prices in pounds, UTF-8): one line a row."""
    path = folder / name
    path.write_text("\n".join([LANTERN_HEADER, *rows]) + "\n", encoding="utf-8")
    return path


def ingest(ledger: Ledger, market: Market, files: Sequence[Path], map_name: str | None = None) -> IngestRun:
    """Ingest files as of AS_OF."""
    return ingest_files(ledger, market, files, map_name=map_name, as_of=AS_OF, loaded_at=LOADED_AT)
