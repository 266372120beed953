"""A small dealer's folder whose records leave doubts: three pairs of sales that may be one, an era in conflict."""

from datetime import UTC, datetime
from pathlib import Path

from pipeline.answers.ingest.run import ingest_exports
from tests.exports import write_holm, write_lantern
from tests.folders import written_once

HERE = Path(__file__).parent
NOW = datetime(2026, 6, 30, 12, tzinfo=UTC)
HOSTILE = '<script>alert(1)</script>"><img src=x onerror=alert(2)> \u202egnirts Gannet Hi'
IN_CSV = '"' + HOSTILE.replace('"', '""') + '"'
SIZES = (8, 9, 10)
IN_CONFLICT = "1;Gannet Hi first run, 03/95-06/95 KX2;04.06.2021;90;zugeschlagen;43;"


@written_once
def write_doubtful_shop(folder: Path) -> None:
    """Write the folder: sales of one title and size a day apart, the price of one a little higher."""
    (folder / "market.toml").write_bytes((HERE / "market.toml").read_bytes())
    exports = folder / "exports"
    exports.mkdir()
    rows = [
        f",,{IN_CSV},2021-02-01,2021-03-0{day},,{price},sold,UK {size},8,"
        for size in SIZES
        for day, price in ((4, 100), (5, 101))
    ]
    files = [write_lantern(exports, *rows), write_holm(exports, IN_CONFLICT)]
    ingest_exports(folder / "pairband.duckdb", folder / "market.toml", files, map_name=None, loaded_at=NOW)
