"""Read exports into the ledger, and show what could not be read."""

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from pipeline.clock import day_of
from pipeline.config import load_market
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ingest.run import IngestRun, ingest_files
from pipeline.ledger import open_ledger

OnProgress = Callable[[str, int, int], None]


def ingest_exports(
    ledger_path: Path,
    market_path: Path,
    files: Sequence[Path],
    *,
    map_name: str | None,
    skip_unreadable: bool = False,
    loaded_at: datetime,
    on_progress: OnProgress | None = None,
) -> IngestRun:
    """Read exports into the ledger, making it where there is none; one transaction a file."""
    market = load_market(market_path)
    with open_ledger(ledger_path, create=True) as ledger:
        return ingest_files(
            ledger,
            market,
            files,
            map_name=map_name,
            skip_unreadable=skip_unreadable,
            as_of=day_of(loaded_at),
            loaded_at=loaded_at,
            on_progress=on_progress,
        )


def quarantined(ledger_path: Path) -> str:
    """Return the quarantined rows as CSV that is safe to open in a spreadsheet."""
    with open_ledger(ledger_path, read_only=True) as ledger:
        return quarantine_csv(ledger)
