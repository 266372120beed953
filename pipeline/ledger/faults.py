"""What the engine says, told once in the owner's words."""

from pathlib import Path

import duckdb

from pipeline.errors import LedgerError

_MAGIC = b"DUCK"
_MAGIC_AT = 8


def opening_fault(exc: duckdb.Error, path: Path) -> LedgerError:
    """Return the error to raise when `path` would not open: damaged, held, or not to be read."""
    if not _looks_like_duckdb(path):
        return LedgerError(
            f"{path} is not a ledger: it is no DuckDB file, or it is damaged",
            "restore it from a copy, or move it away and ingest your exports again.",
        )
    if isinstance(exc, duckdb.ConnectionException):
        return LedgerError(f"{path} is already open in this program", "close it there first.")
    if isinstance(exc, duckdb.IOException) and _held_by_another(path):
        return LedgerError(
            f"{path} is held by another process: {_first_line(exc)}",
            "let the other pairband finish, or end it, and run again.",
        )
    return LedgerError(
        f"{path} cannot be opened: {_first_line(exc)}",
        "if it is damaged, restore it from a copy or ingest your exports into a new ledger.",
    )


def running_fault(exc: duckdb.Error, path: Path) -> LedgerError:
    """Return the error to raise when a statement on an open ledger failed."""
    if isinstance(exc, duckdb.OutOfMemoryException):
        return LedgerError(
            f"{path}: the ledger needed more memory than this machine gives: {_first_line(exc)}",
            "close other programs, or ingest fewer files at once.",
        )
    if isinstance(exc, duckdb.InvalidInputException | duckdb.ProgrammingError):
        return LedgerError(f"{path}: {_first_line(exc)}", "nothing was changed.")
    return LedgerError(
        f"{path} cannot be read or written any further: {_first_line(exc)}",
        "nothing of this step was kept; check the disk, and restore the ledger from a copy if it is damaged.",
    )


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
        with path.open("r+b") as file:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return True
    return False


def _first_line(exc: BaseException) -> str:
    return str(exc).strip().splitlines()[0] if str(exc).strip() else type(exc).__name__
