"""A shop of one early export of the demo: two pairs of stock, upcoming lots, and a fit."""

import shutil
from datetime import UTC, datetime
from pathlib import Path

from pipeline.answers.fit.run import fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.shipped import shipped

NOW = datetime(2019, 12, 31, tzinfo=UTC)


def make_shop(folder: Path) -> Path:
    """Return a folder with the demo's market file, two pairs of its stock, its lots, and a fit to one early export."""
    scene = shipped("sample_data")
    shutil.copy(scene / "market.toml", folder)
    shutil.copy(scene / "exports" / "upcoming_lots.csv", folder)
    export = scene / "exports" / "holm_2017_2019.csv"
    ingest_exports(folder / "pairband.duckdb", folder / "market.toml", [export], map_name=None, loaded_at=NOW)
    fit_ledger(folder / "pairband.duckdb", folder / "market.toml", fitted_at=NOW)
    lines = (scene / "exports" / "stock.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "stock.csv").write_text("".join(lines[:3]), encoding="utf-8")
    return folder
