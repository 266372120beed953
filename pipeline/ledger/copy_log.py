"""The list of the ledger's copies: one JSON line a copy, in a file beside the ledger that outlives it."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

from pydantic import AwareDatetime, NonNegativeInt, TypeAdapter, ValidationError

from pipeline.errors import LedgerError
from pipeline.ledger.files import wal_of
from pipeline.plain_file import read_plain_file, refuse_special

WHAT = "list of copies"
LONGEST = 10_000_000
"""Bytes of the list: some thirty thousand copies."""


@dataclass(frozen=True)
class Copy:
    """A copy of the ledger: where it lies, when it was made (UTC), its digest, and what it held then.

    `sound` says whether every check of the ledger held when it was copied. `market_sha256` is the digest of
    the market file that was copied with it, None where there was none.
    """

    path: Path
    made_at: AwareDatetime
    sha256: str
    size_bytes: NonNegativeInt
    sales: NonNegativeInt
    records_digest: str
    sound: bool
    market_sha256: str | None = None

    @property
    def is_there(self) -> bool:
        """Whether a file of the copy's size lies where the copy was put."""
        try:
            return self.path.is_file() and self.path.stat().st_size == self.size_bytes
        except OSError:
            return False


@dataclass(frozen=True)
class CopyLog:
    """The copies that the list names, in the order in which they were made, and what of it cannot be read."""

    copies: tuple[Copy, ...]
    faults: tuple[str, ...]


def log_path(ledger_path: Path) -> Path:
    """Return the file in which the copies of a ledger are listed."""
    return ledger_path.with_suffix(".copies.jsonl")


def refuse_log(ledger_path: Path) -> None:
    """Raise LedgerError where the list of copies is not a plain file, so that no copy can be added to it."""
    refuse_special(log_path(ledger_path), WHAT, fault=LedgerError)


def note_copy(ledger_path: Path, copy: Copy) -> None:
    """Add a copy to the list; raises LedgerError where the list cannot be written."""
    line = json.dumps(asdict(copy), default=str)
    try:
        with log_path(ledger_path).open("a", encoding="utf-8") as file:
            file.write(line + "\n")
    except OSError as exc:
        raise LedgerError(
            f"the copy {copy.path} was made, but {log_path(ledger_path)} cannot be written: {exc.strerror}",
            "keep in mind where the copy lies, or make room or let the folder be written to.",
        ) from exc


def known_copies(ledger_path: Path) -> tuple[Copy, ...]:
    """Return the copies that the list names, in the order in which they were made; unreadable lines are left out."""
    return read_log(ledger_path).copies


def read_log(ledger_path: Path) -> CopyLog:
    """Return what the list of copies says, and in words what of it cannot be read; raises nothing for it."""
    path = log_path(ledger_path)
    try:
        if not path.exists():
            return CopyLog((), ())
        lines = read_plain_file(path, WHAT, LONGEST, fault=LedgerError).splitlines()
    except LedgerError as exc:
        return CopyLog((), (exc.what,))
    except OSError as exc:
        return CopyLog((), (f"the {WHAT} {path} cannot be read: {exc.strerror}",))
    copies, faults = [], []
    for number, line in enumerate(lines, 1):
        copy = _read(line)
        if copy is not None:
            copies.append(copy)
        elif line.strip():
            faults.append(f"line {number} of the {WHAT} {path} is damaged")
    return CopyLog(tuple(copies), tuple(faults))


def newest_copy(copies: Iterable[Copy]) -> Copy | None:
    """Return the last sound copy that lies where it was put, or None."""
    return next((copy for copy in reversed(list(copies)) if copy.sound and copy.is_there), None)


def files_of(ledger_path: Path) -> list[tuple[Path, str]]:
    """Return the files that belong to a ledger, each with what it is: itself, its log, its copies and their list.

    What has no name (".") is a folder, and no ledger: nothing belongs to it.
    """
    if not ledger_path.name:
        return []
    return [
        (ledger_path, "the ledger"),
        (wal_of(ledger_path), "the ledger's log"),
        (log_path(ledger_path), "the list of the ledger's copies"),
        *((copy.path, "a copy of the ledger") for copy in known_copies(ledger_path)),
    ]


@cache
def _line() -> TypeAdapter[Copy]:
    return TypeAdapter(Copy)


def _read(line: bytes) -> Copy | None:
    try:
        return _line().validate_json(line, strict=True)
    except ValidationError:
        return None
