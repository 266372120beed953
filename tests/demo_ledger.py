"""The demo's exports in a ledger, and its priced sales, read once a test run."""

from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import polars as pl

from pipeline.ingest.run import IngestRun, ingest_files
from pipeline.ledger import open_ledger
from pipeline.shipped import shipped
from sample_data import scenario

LATER = datetime(2026, 10, 1, tzinfo=UTC)
NOT_SALES = ("stock.csv", "upcoming_lots.csv")


@cache
def demo_ledger() -> tuple[Path, IngestRun]:
    """Return a ledger into which all of the demo's exports were read, and what came of their rows."""
    path = Path(mkdtemp(prefix="pairband-demo-")) / "pairband.duckdb"
    exports = shipped("sample_data") / "exports"
    files = [file for file in sorted(exports.iterdir()) if file.name not in NOT_SALES]
    with open_ledger(path, create=True) as ledger:
        run = ingest_files(ledger, scenario.market(), files, as_of=LATER.date(), loaded_at=LATER)
    return path, run


@cache
def demo_sales() -> pl.DataFrame:
    """Return the demo's priced sales (columns of sql/marts/priced_sales.sql)."""
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        return ledger.read("marts/priced_sales", silhouette=None, most=None)
