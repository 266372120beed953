"""Read exports into the ledger, and show what could not be read."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from pipeline.answers.understood.answer import Understood
from pipeline.answers.understood.run import understood_of
from pipeline.clock import day_of
from pipeline.config import load_market
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ingest.replacement import Wish
from pipeline.ingest.run import IngestRun, ingest_files
from pipeline.ledger import open_ledger

OnProgress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Ingested(IngestRun):
    """What a run did, and what was understood of each export of sales of which the rows are new."""

    understood: tuple[Understood, ...]


def ingest_exports(
    ledger_path: Path,
    market_path: Path,
    files: Sequence[Path],
    *,
    map_name: str | None,
    skip_unreadable: bool = False,
    wish: Wish | None = None,
    listed_on: date | None = None,
    loaded_at: datetime,
    on_progress: OnProgress | None = None,
) -> Ingested:
    """Read exports into the ledger, making it where there is none; one transaction a file.

    A stock list is of the day `listed_on`; left out, of the day of its reading.
    """
    market = load_market(market_path)
    with open_ledger(ledger_path, create=True) as ledger:
        run = ingest_files(
            ledger,
            market,
            files,
            map_name=map_name,
            skip_unreadable=skip_unreadable,
            wish=wish,
            listed_on=listed_on,
            as_of=day_of(loaded_at),
            loaded_at=loaded_at,
            on_progress=on_progress,
        )
        new = [file for file in run.files if not file.unchanged and file.listed_on is None]
        changed = dict.fromkeys(file.file_sha256 for file in new)
        return Ingested(
            run.files, run.notes, tuple(understood_of(ledger, market, file_sha256) for file_sha256 in changed)
        )


def quarantined(ledger_path: Path) -> str:
    """Return the quarantined rows as CSV that is safe to open in a spreadsheet."""
    with open_ledger(ledger_path, read_only=True) as ledger:
        return quarantine_csv(ledger)
