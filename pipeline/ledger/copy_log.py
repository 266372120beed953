"""The list of the ledger's copies: one JSON line a copy, in a file beside the ledger that outlives it."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from pipeline.errors import LedgerError
from pipeline.ledger.files import wal_of


@dataclass(frozen=True)
class Copy:
    """A copy of the ledger: where it lies, when it was made (UTC), its digest, and what it held then.

    `sound` says whether every check of the ledger held when it was copied.
    """

    path: Path
    made_at: datetime
    sha256: str
    size_bytes: int
    sales: int
    records_digest: str
    sound: bool

    @property
    def is_there(self) -> bool:
        """Whether a file of the copy's size lies where the copy was put."""
        return self.path.is_file() and self.path.stat().st_size == self.size_bytes


def log_path(ledger_path: Path) -> Path:
    """Return the file in which the copies of a ledger are listed."""
    return ledger_path.with_suffix(".copies.jsonl")


def note_copy(ledger_path: Path, copy: Copy) -> None:
    """Add a copy to the list; raises LedgerError where the list cannot be written."""
    line = json.dumps(asdict(copy), default=str, ensure_ascii=False)
    try:
        with log_path(ledger_path).open("a", encoding="utf-8") as file:
            file.write(line + "\n")
    except OSError as exc:
        raise LedgerError(
            f"the copy {copy.path} was made, but {log_path(ledger_path)} cannot be written: {exc.strerror}",
            "keep in mind where the copy lies, or make room or let the folder be written to.",
        ) from exc


def known_copies(ledger_path: Path) -> tuple[Copy, ...]:
    """Return the copies that the list names, in the order in which they were made; lines at fault are left out."""
    try:
        lines = log_path(ledger_path).read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ()
    return tuple(copy for copy in map(_read, lines) if copy is not None)


def newest_copy(copies: Iterable[Copy]) -> Copy | None:
    """Return the last sound copy that lies where it was put, or None."""
    return next((copy for copy in reversed(list(copies)) if copy.sound and copy.is_there), None)


def files_of(ledger_path: Path) -> list[tuple[Path, str]]:
    """Return the files that belong to a ledger, each with what it is: itself, its log, its copies and their list."""
    return [
        (ledger_path, "the ledger"),
        (wal_of(ledger_path), "the ledger's log"),
        (log_path(ledger_path), "the list of the ledger's copies"),
        *((copy.path, "a copy of the ledger") for copy in known_copies(ledger_path)),
    ]


def _read(line: str) -> Copy | None:
    try:
        told = json.loads(line)
        return Copy(
            path=Path(told["path"]),
            made_at=datetime.fromisoformat(told["made_at"]),
            sha256=str(told["sha256"]),
            size_bytes=int(told["size_bytes"]),
            sales=int(told["sales"]),
            records_digest=str(told["records_digest"]),
            sound=bool(told["sound"]),
        )
    except (ValueError, KeyError, TypeError):
        return None
