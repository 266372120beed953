"""What the engine says, once in the owner's words."""

import os
import re
import shlex
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import polars as pl

from pipeline.errors import LedgerError
from pipeline.ledger.copy_log import known_copies, newest_copy
from pipeline.ledger.sharing import is_open_here

_MAGIC = b"DUCK"
_MAGIC_AT = 8

LITTLE_ROOM = 8_000_000
"""With fewer bytes free on its disk than this, a write that failed is blamed on the disk."""


_ENGINE_FAULTS = (duckdb.Error, pl.exceptions.ComputeError)
"""What a statement raises: polars passes on what the engine meets while it reads."""

_INTERRUPTED = "interrupted"
_NOT_A_FILE = re.compile(r":memory:|[A-Za-z][A-Za-z0-9+.-]+:")
"""How a name begins that the engine takes for something other than a file: a database in memory, an address."""


@contextmanager
def engine_words(fault: Callable[[Exception, Path], LedgerError], path: Path) -> Iterator[None]:
    """Raise what the engine raises as `fault` words it; an interrupt within a statement stays an interrupt."""
    try:
        yield
    except duckdb.InterruptException as exc:
        raise KeyboardInterrupt from exc
    except _ENGINE_FAULTS as exc:
        if isinstance(exc, pl.exceptions.ComputeError) and _INTERRUPTED in str(exc).lower():
            raise KeyboardInterrupt from exc
        raise fault(exc, path) from exc
    except RuntimeError as exc:  # the engine's client knows no class of its own for it
        if _INTERRUPTED in str(exc).lower():
            raise KeyboardInterrupt from exc
        raise


def refuse_name(path: Path, what: str) -> None:
    """Raise LedgerError for a name that the engine would not take as the name of one plain file."""
    try:
        str(path).encode()
    except UnicodeEncodeError as exc:
        raise LedgerError(
            f"{what} {str(path)!r} has a name that is not UTF-8, which the engine cannot open",
            "give the file, and its folder, another name.",
        ) from exc
    if _NOT_A_FILE.match(str(path)) or "?" in str(path) or "\0" in str(path):
        raise LedgerError(
            f"{what} {str(path)!r} is not the name of a plain file, so nothing would be kept",
            "name one file on a disk, such as pairband.duckdb.",
        )


def refuse_place(path: Path, *, read_only: bool, create: bool) -> None:
    """Raise LedgerError where no ledger can be opened at `path`, whatever the engine may say."""
    with translate_system_errors(path):
        _refuse_place(path, read_only=read_only, create=create)


@contextmanager
def translate_system_errors(path: Path) -> Iterator[None]:
    """Raise LedgerError for what the system says of a file: a folder not to be entered, a name too long."""
    try:
        yield
    except OSError as exc:
        raise LedgerError(
            f"{path} cannot be reached: {exc.strerror or exc}; nothing was changed",
            "check the name, and that you may enter its folder.",
        ) from exc


def _refuse_place(path: Path, *, read_only: bool, create: bool) -> None:
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


def opening_fault(exc: Exception, path: Path) -> LedgerError:
    """Return the error to raise when `path` would not open: damaged, held, or not to be read."""
    if isinstance(exc, duckdb.ConnectionException) or is_open_here(path):
        return LedgerError(
            f"{path} is already open in this program: {_first_line(exc)}", "close it there first."
        )
    if not _looks_like_duckdb(path):
        return LedgerError(
            f"{path} is not a ledger: it is no DuckDB file, or it is damaged; it was left as it is",
            way_back(path),
        )
    if isinstance(exc, duckdb.IOException) and held_by_another(path):
        return LedgerError(
            f"{path} is held by another process{_which(exc)}",
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
    if "read-only mode" in str(exc):
        return LedgerError(f"{path} is opened read-only, so nothing was written to it")
    if isinstance(exc, duckdb.TransactionException):
        return LedgerError(
            f"{path} was changed by something else at the same time: {_first_line(exc)}",
            "the ledger is as it was before this step; run again.",
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


def copying_fault(exc: Exception, path: Path) -> LedgerError:
    """Return the error to raise when a ledger could not be rewritten to a second file."""
    return LedgerError(
        f"{path} cannot be copied: {_first_line(exc)}; nothing was changed",
        f"make room on the disk that it is copied to. If the ledger is damaged: {way_back(path)}",
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
        f"({copy.sales:,} records)."
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


def held_by_another(path: Path) -> bool:
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


def _which(exc: BaseException) -> str:
    """Return the number of the process that the engine names, in brackets."""
    found = re.search(r"\bPID (\d+)", str(exc))
    return f" (PID {found[1]})" if found else ""


def _first_line(exc: BaseException) -> str:
    return str(exc).strip().splitlines()[0] if str(exc).strip() else type(exc).__name__
