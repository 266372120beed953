"""What the engine says, told once in the owner's words."""

import os
import shlex
import shutil
from pathlib import Path

import duckdb

from pipeline.errors import LedgerError
from pipeline.ledger.copy_log import known_copies, newest_copy

_MAGIC = b"DUCK"
_MAGIC_AT = 8

LITTLE_ROOM = 8_000_000
"""With fewer bytes free on its disk than this, a write that failed is put down to the disk."""


def refuse_place(path: Path, *, read_only: bool, create: bool) -> None:
    """Raise LedgerError where no ledger can be opened at `path`, whatever the engine may say."""
    if path.exists() and not path.is_file():
        raise LedgerError(f"{path} is no file, so no ledger", "name the ledger's file with --ledger.")
    makes_one = create and not read_only
    if not path.exists() and not makes_one:
        raise LedgerError(f"there is no ledger {path}", _no_ledger(path))
    if not path.parent.is_dir():
        raise LedgerError(f"there is no folder {path.parent} for the ledger", "make it first.")
    if path.exists() and path.stat().st_size == 0 and not makes_one:
        raise LedgerError(f"{path} is empty, not a ledger", _no_ledger(path))
    if path.exists() and not os.access(path, os.R_OK):
        raise LedgerError(f"{path} may not be read by you", "ask who owns the file to let you.")
    if read_only:
        return
    for place, what in ((path, "the ledger"), (path.parent, "the folder of the ledger,")):
        if place.exists() and not os.access(place, os.W_OK):
            raise LedgerError(
                f"{what} {place.absolute()} may not be written to; nothing was changed",
                "let it be written to, or name a ledger elsewhere with --ledger.",
            )


def opening_fault(exc: duckdb.Error, path: Path) -> LedgerError:
    """Return the error to raise when `path` would not open: damaged, held, or not to be read."""
    if not _looks_like_duckdb(path):
        return LedgerError(
            f"{path} is not a ledger: it is no DuckDB file, or it is damaged; it was left as it is",
            way_back(path),
        )
    if isinstance(exc, duckdb.ConnectionException):
        return LedgerError(f"{path} is already open in this program", "close it there first.")
    if isinstance(exc, duckdb.IOException) and _held_by_another(path):
        return LedgerError(
            f"{path} is held by another process: {_first_line(exc)}",
            "let the other pairband finish, or end it, and run again.",
        )
    return LedgerError(
        f"{path} cannot be opened: {_first_line(exc)}; it was left as it is",
        f"if it is damaged: {way_back(path)}",
    )


def running_fault(exc: Exception, path: Path) -> LedgerError:
    """Return the error to raise when a statement on an open ledger failed."""
    if isinstance(exc, duckdb.OutOfMemoryException):
        return LedgerError(
            f"{path}: the ledger needed more memory than this machine gives: {_first_line(exc)}",
            "close other programs, or ingest fewer files at once.",
        )
    if isinstance(exc, duckdb.InvalidInputException | duckdb.ProgrammingError):
        return LedgerError(f"{path}: {_first_line(exc)}", "nothing was changed.")
    free = free_bytes(path)
    if free < LITTLE_ROOM:
        return LedgerError(
            f"{path} could not be written, its disk has {free:,} bytes left: {_first_line(exc)}",
            "the ledger is as it was before this step; make room, and run again.",
        )
    return LedgerError(
        f"{path} cannot be read or written any further: {_first_line(exc)}",
        f"the ledger is as it was before this step; check the disk. If the file is damaged: {way_back(path)}",
    )


def way_back(path: Path) -> str:
    """Return what to do about a ledger that is damaged, with the newest copy where one is known."""
    copy = newest_copy(known_copies(path))
    if copy is None:
        return (
            "`pairband recover COPY` brings a copy of it back; without one, move the file away and ingest your "
            "exports again."
        )
    return (
        f"`pairband recover {shlex.quote(str(copy.path))}` brings back the copy of {copy.made_at:%Y-%m-%d} "
        f"({copy.sales:,} sales)."
    )


def free_bytes(path: Path) -> int:
    """Return how many bytes are free on the disk of a ledger."""
    return shutil.disk_usage(path.parent).free


def _no_ledger(path: Path) -> str:
    copy = newest_copy(known_copies(path))
    return "`pairband ingest FILE` makes one." if copy is None else way_back(path)


def _looks_like_duckdb(path: Path) -> bool:
    """Whether the file carries DuckDB's mark (a file that cannot be read is given the benefit)."""
    try:
        with path.open("rb") as file:
            head = file.read(_MAGIC_AT + len(_MAGIC))
    except OSError:
        return True
    return head[_MAGIC_AT:] == _MAGIC


def _held_by_another(path: Path) -> bool:
    """Whether another process holds the file's lock; only asked when the engine did not get it."""
    try:
        import fcntl
    except ImportError:
        return True
    try:
        file = path.open("r+b")
    except OSError:
        return False
    with file:
        try:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return True
    return False


def _first_line(exc: BaseException) -> str:
    return str(exc).strip().splitlines()[0] if str(exc).strip() else type(exc).__name__
