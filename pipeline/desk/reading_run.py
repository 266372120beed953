"""Read files into the ledger one after another, each as `pairband ingest` does, and keep what came of each."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pipeline import clock
from pipeline.answers.ingest.run import Ingested, ingest_exports
from pipeline.captured import OnProgress
from pipeline.desk.desk import Desk
from pipeline.errors import LedgerError, PairbandError
from pipeline.ingest.replacement import Answer, Doubt, Wish

FAULTS_OF_ALL = (LedgerError,)
"""Errors that no further file would be spared."""


@dataclass(frozen=True)
class FileRead:
    """What came of one file: what the run did, or the fault in words, or what the owner must settle first."""

    name: str
    run: Ingested | None = None
    fault: str = ""
    doubt: Doubt | None = None
    said: tuple[tuple[str, Answer], ...] = ()

    @property
    def has_rows(self) -> bool:
        """Whether any row of the file became a record."""
        return self.run is not None and any(one.recorded or one.duplicates for one in self.run.files)


@dataclass(frozen=True)
class Asked:
    """What the owner wants read: the files, what they said of doubts, and of which day a stock list is."""

    names: tuple[str, ...]
    said: Mapping[str, Answer]
    listed_on: date | None = None


def doubt_key(doubt: Doubt) -> str:
    """Return what a doubt is known by from one reading to the next."""
    return f"{doubt.earlier} {doubt.again}/{doubt.rows}/{doubt.gone}"


def read_files(desk: Desk, asked: Asked, on_progress: OnProgress) -> tuple[FileRead, ...]:
    """Read files, each in its own transaction, so that one that cannot be read keeps no other back.

    Raises PairbandError where that would be so of all of them.
    """
    found = []
    for name in asked.names:
        on_progress(Path(name).name, 0, 0)
        found.append(_read_file(desk, name, asked, on_progress))
    return tuple(found)


def _read_file(desk: Desk, name: str, asked: Asked, on_progress: OnProgress) -> FileRead:
    open_doubts: list[Doubt] = []
    said = tuple(asked.said.items())

    def settle(doubt: Doubt) -> Answer | None:
        answer = asked.said.get(doubt_key(doubt))
        if answer is None:
            open_doubts.append(doubt)
        return answer

    try:
        run = ingest_exports(
            desk.ledger_path,
            desk.market_path,
            [Path(name)],
            map_name=None,
            wish=Wish(settle=settle),
            listed_on=asked.listed_on,
            loaded_at=clock.now(),
            on_progress=on_progress,
        )
    except FAULTS_OF_ALL:
        raise
    except PairbandError as exc:
        if isinstance(exc.__cause__, KeyboardInterrupt):
            raise
        if open_doubts:
            return FileRead(name, doubt=open_doubts[0], said=said)
        return FileRead(name, fault=str(exc))
    return FileRead(name, run)
