"""The ledger as a file: copied byte for byte, put in place at once, never over one that is not kept."""

import errno
import hashlib
import os
import re
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from glob import escape as glob_escape
from pathlib import Path
from zlib import crc32

from pipeline.errors import LedgerError
from pipeline.outfile import give_free_name

_AT_ONCE = 1 << 20
STAMP = "%Y%m%d-%H%M%S"
"""How a time (UTC) is written in a file's name."""


def wal_of(path: Path) -> Path:
    """Return where the engine keeps what is not yet in a ledger's file: its write-ahead log."""
    return path.with_name(path.name + ".wal")


def logs_of(path: Path) -> tuple[Path, ...]:
    """Return every name under which the engine may keep, or leave when killed, what is not yet in a ledger's file."""
    wal = wal_of(path)
    return wal, wal.with_name(wal.name + ".checkpoint"), wal.with_name(wal.name + ".recovery")


def successor_of(path: Path) -> Path:
    """Return the name of the file that is to take a ledger's place: once it is there, it is the ledger."""
    return path.with_name(path.name + ".recovered")


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
    names = zip((*logs_of(source), source), (*logs_of(target), target), strict=True)
    for part, written in names:  # the file itself last: closing it lets its lock go
        if part != source and not part.exists():
            continue
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
    part = target.with_name(f".pairband-{os.getpid()}-{crc32(os.fsencode(target.name)):08x}.part")
    try:
        for left in (part, *logs_of(part), *_abandoned(target.parent)):
            left.unlink(missing_ok=True)
        yield part
    except OSError as exc:
        remedy = "make room, or name a file on another disk." if exc.errno in _FULL else "name another file."
        raise LedgerError(
            f"{target} cannot be written: {exc.strerror or exc}; nothing was changed", remedy
        ) from exc
    finally:
        for left in (part, *logs_of(part)):
            with suppress(OSError):
                left.unlink(missing_ok=True)


_PART = re.compile(r"\.pairband-(\d+)(-[0-9a-f]{8})?\.part")
_ABANDONED_AFTER = 24 * 60 * 60
"""Seconds without a change after which a part whose process is gone is nobody's: it may hold a ledger's content."""


def _abandoned(folder: Path) -> list[Path]:
    """Return the parts in a folder, with their logs, that a killed process of this machine left behind."""
    now = time.time()
    return [
        path
        for path in folder.glob(".pairband-*.part*")
        if (named := _PART.match(path.name))
        and not _runs(int(named.group(1)))
        and now - path.lstat().st_mtime > _ABANDONED_AFTER
    ]


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def put_in_place(part: Path, target: Path) -> None:
    """Give a finished file its name, at once; raises LedgerError where a file has that name by now."""
    try:
        give_free_name(part, target)
    except FileExistsError as exc:
        raise LedgerError(
            f"{target} is there already; nothing was written over", "name another file."
        ) from exc
    sync_folder(target.parent)


def put_over(part: Path, target: Path) -> None:
    """Give a finished file its name, at once, in the place of the file that has it."""
    os.replace(part, target)
    sync_folder(target.parent)


def replace_ledger(path: Path, part: Path, *, now: datetime) -> Path | None:
    """Put a finished file in a ledger's place; return where the replaced one lies, None where there was none.

    The finished file is first renamed to `successor_of` the ledger: from that moment on it is the ledger, and
    what is left to do (`finish_replacing`) is done by whoever opens the ledger next, should this process be
    killed. Until then the ledger and its log lie untouched. Raises LedgerError where another process has the
    ledger open.
    """
    os.utime(part, (now.timestamp(), now.timestamp()))
    with alone_with(path):
        put_over(part, successor_of(path))
    return finish_replacing(path)


def finish_replacing(path: Path) -> Path | None:
    """Bring a replacement that was begun to its end; return where the replaced ledger lies.

    The replaced ledger and its log get a second name each before either gives up its first. The name carries
    the time of the replacement, so that one that is finished later finds what was done. Does nothing where no
    replacement was begun. Raises LedgerError where it cannot be finished.
    """
    successor = successor_of(path)
    if not os.path.lexists(successor):
        return None
    try:
        with alone_with(path):
            if not successor.exists():  # another process was faster
                return None
            aside = _name_aside(path, datetime.fromtimestamp(successor.stat().st_mtime, UTC))
            replaced = aside if path.exists() else None
            for kept, name in zip((*logs_of(path), path), (*logs_of(aside), aside), strict=True):
                if kept.exists():
                    _name_twice(kept, name)
            sync_folder(path.parent)
            for log in logs_of(path):
                log.unlink(missing_ok=True)
            put_over(successor, path)
    except OSError as exc:
        raise LedgerError(
            f"{path} is being replaced by {successor}, and that cannot be finished: {exc.strerror or exc}",
            "let the folder be written to, make room, and run again; nothing is lost.",
        ) from exc
    return replaced


def _name_twice(path: Path, name: Path) -> None:
    """Give a file a second name, or where the file system has no links, a copy under that name."""
    if name.exists():
        return
    try:
        os.link(path, name)
    except OSError:
        part = name.with_name(f"{name.name}.part")
        shutil.copy2(path, part)
        with part.open("rb") as file:
            os.fsync(file.fileno())
        os.replace(part, name)


def _name_aside(path: Path, moment: datetime) -> Path:
    """Return the name for a ledger that is replaced at that moment: the one it has already, or a new one."""
    mark = f"replaced-{moment:{STAMP}}"
    if path.exists():
        for known in path.parent.glob(f"{glob_escape(path.stem)}.{mark}*{glob_escape(path.suffix)}"):
            if known.samefile(path):
                return known
    return free_name(path, mark)


def free_name(path: Path, mark: str) -> Path:
    """Return a name beside `path` that carries the mark and that no file has."""
    names = (f"{path.stem}.{mark}{again}{path.suffix}" for again in ["", *(f"-{n}" for n in range(2, 1000))])
    return next(place for name in names if not (place := path.with_name(name)).exists())


@contextmanager
def alone_with(path: Path) -> Iterator[None]:
    """Hold a ledger's file, if it is there, so that no other process opens it.

    Raises LedgerError where one has it open.
    """
    import fcntl

    if not path.exists():
        yield
        return
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
