"""The ledger as a file: copied byte for byte, put in place at once, never over another."""

import errno
import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.errors import LedgerError

_AT_ONCE = 1 << 20


def wal_of(path: Path) -> Path:
    """Return where the engine keeps what is not yet in a ledger's file."""
    return path.with_name(path.name + ".wal")


def file_digest(path: Path) -> tuple[str, int]:
    """Return the SHA-256 of a file and its size in bytes."""
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as file:
        while block := file.read(_AT_ONCE):
            digest.update(block)
            size += len(block)
    return digest.hexdigest(), size


def copy_bytes(source: Path, target: Path) -> None:
    """Copy a ledger's file, and what the engine keeps beside it, and read the copy again.

    Raises LedgerError where the bytes on disk are not those that were read.
    """
    for part in (wal_of(source), source):  # closing the file itself lets its lock go
        if part != source and not part.exists():
            continue
        written = target if part == source else wal_of(target)
        digest = hashlib.sha256()
        with part.open("rb") as taken, written.open("xb") as given:
            while block := taken.read(_AT_ONCE):
                digest.update(block)
                given.write(block)
            given.flush()
            os.fsync(given.fileno())
        if file_digest(written)[0] != digest.hexdigest():
            raise LedgerError(
                f"{target} is not what was written to it: the disk does not keep its bytes",
                "use another disk.",
            )


@contextmanager
def part_beside(target: Path) -> Iterator[Path]:
    """Give a name beside `target` under which it is written first; nothing is left where that fails.

    Raises LedgerError where the folder cannot be written to or is full.
    """
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        yield part
    except OSError as exc:
        remedy = "make room, or name a file on another disk." if exc.errno in _FULL else "name another file."
        raise LedgerError(
            f"{target} cannot be written: {exc.strerror or exc}; nothing was changed", remedy
        ) from exc
    finally:
        for left in (part, wal_of(part)):
            left.unlink(missing_ok=True)


_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def put_in_place(part: Path, target: Path) -> None:
    """Give a finished file its name, at once; raises LedgerError where a file has that name by now."""
    try:
        os.link(part, target)
    except FileExistsError as exc:
        raise LedgerError(
            f"{target} is there already; nothing was written over", "name another file."
        ) from exc
    except OSError:  # a file system without links
        if target.exists():
            raise LedgerError(
                f"{target} is there already; nothing was written over", "name another file."
            ) from None
        os.replace(part, target)
    sync_folder(target.parent)


def put_aside(path: Path, aside: Path) -> None:
    """Give a ledger a second name, under which it stays when another takes its place."""
    try:
        os.link(path, aside)
    except OSError:  # a file system without links
        shutil.copy2(path, aside)
    if wal_of(path).exists():
        os.replace(wal_of(path), wal_of(aside))


def name_anew(path: Path, mark: str) -> Path:
    """Return a name beside `path` that carries the mark and that no file has."""
    names = (f"{path.stem}.{mark}{again}{path.suffix}" for again in ["", *(f"-{n}" for n in range(2, 1000))])
    return next(place for name in names if not (place := path.with_name(name)).exists())


@contextmanager
def alone_with(path: Path) -> Iterator[None]:
    """Hold a ledger's file so that no other process opens it; raises LedgerError where one has it open."""
    import fcntl

    with path.open("r+b") as file:
        try:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as exc:
            raise LedgerError(
                f"{path} is held by another process; nothing was changed",
                "let the other pairband finish, or end it, and run again.",
            ) from exc
        yield


def sync_folder(folder: Path) -> None:
    """Have the folder's names on disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
