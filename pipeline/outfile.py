"""Write a file of the owner's choosing: whole or not at all, and never over what is theirs.

Every page, table, figure and starter goes through `write_file`. It refuses the ledger, its log, the market
file, copies and inputs always, links always, and a file that pairband did not write (or that was changed since)
unless the owner says --force.
"""

import errno
import hashlib
import os
import secrets
import shutil
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import ReportError
from pipeline.state import note_written, was_written

_MOST_EARLIER = 1_000
"""How many earlier texts of a market file may lie beside it."""

_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


@dataclass(frozen=True)
class Guard:
    """What a command must not write to, each path with what it is, and whether it may replace other files."""

    kept: tuple[tuple[Path, str], ...] = ()
    force: bool = False


_NO_COMMAND = Guard()
_GUARD: ContextVar[Guard] = ContextVar("guard", default=_NO_COMMAND)


@contextmanager
def guarding(kept: Iterable[tuple[Path, str]], *, force: bool) -> Iterator[None]:
    """Guard what is written inside: never over a `kept` path, over a stranger's file only with `force`."""
    before = _GUARD.set(Guard(tuple(kept), force))
    try:
        yield
    finally:
        _GUARD.reset(before)


def write_file(content: bytes, path: Path) -> Path:
    """Write a file whole, beside its place first, its folder made where it is missing; return its path.

    Raises ReportError where `refuse_place` does, or where the file cannot be written; then nothing was changed.
    """
    refuse_place(path, content)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with _beside(path, content) as part:
            if path.exists():
                part.chmod(stat.S_IMODE(path.stat().st_mode))
            note_written(hashlib.sha256(content).hexdigest())
            os.replace(part, path)
    except (OSError, ValueError) as exc:
        raise _cannot(path, exc) from exc
    return path


@contextmanager
def write_folder(path: Path) -> Iterator[Path]:
    """Let the inside fill a folder, which then gets its name at once; what was there by that name goes.

    Raises ReportError where there is anything by that name but a folder of files that pairband wrote and nobody
    changed, or where the folder cannot be made; then nothing was changed.
    """
    refuse_folder(path)
    place = path.resolve()
    part, before = (place.with_name(f".pairband-{os.getpid()}.{what}") for what in ("part", "before"))
    try:
        part.mkdir(parents=True)
        yield part
        for file in part.rglob("*.*"):
            if file.is_file():
                note_written(_digest(file))
        _take_place(part, place, before)
    except (OSError, ValueError) as exc:
        raise _cannot(path, exc) from exc
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _take_place(part: Path, place: Path, before: Path) -> None:
    """Give a finished folder its name; the one that had it goes once that is done, and is back where it fails."""
    if not place.exists():
        os.replace(part, place)
        return
    os.replace(place, before)
    try:
        os.replace(part, place)
    except OSError:
        os.replace(before, place)
        raise
    shutil.rmtree(before, ignore_errors=True)


def refuse_folder(path: Path) -> None:
    """Raise ReportError where a folder may not be written at `path` in the place of what is there."""
    try:
        if path.is_symlink() or (path.exists() and not path.is_dir()):
            raise ReportError(f"{path} is no folder; nothing was written", "name another folder.")
        files = (one for one in path.rglob("*") if one.is_symlink() or not one.is_dir())
        stranger = next((file for file in files if not _is_ours(file)), None)
    except (OSError, ValueError) as exc:
        raise _cannot(path, exc) from exc
    if stranger is not None:
        raise ReportError(
            f"{path} holds {stranger.relative_to(path)}, which pairband did not write, or which was changed since; "
            "nothing was written",
            "name another folder.",
        )


def _is_ours(file: Path) -> bool:
    """Return whether pairband wrote a file and nobody changed it since; a pipe or a device is never opened."""
    return file.is_file() and not file.is_symlink() and was_written(_digest(file))


def write_new_file(content: bytes, path: Path) -> Path:
    """Write a file where none is, whole or not at all; raises ReportError where one is there already."""
    try:
        if path.exists() or path.is_symlink():
            raise FileExistsError(errno.EEXIST, "a file is there already", str(path))
        with _beside(path, content) as part:
            give_free_name(part, path)
    except FileExistsError as exc:
        raise ReportError(
            f"{path} is there already; nothing was written", "move it away first, or edit it."
        ) from exc
    except (OSError, ValueError) as exc:
        raise _cannot(path, exc) from exc
    note_written(hashlib.sha256(content).hexdigest())
    return path


def edit_market_file(path: Path, before: bytes, content: bytes) -> Path:
    """Put new content into the market file, its earlier text kept beside it; return where that is.

    The one way in which a command changes what the owner wrote. Raises ReportError where the file is no longer what
    was read (`before`), is a link, or cannot be written; then it is as it was.
    """
    try:
        if path.is_symlink():
            raise ReportError(
                f"{path} is a link to {os.readlink(path)}; nothing was written",
                "name the market file itself.",
            )
        earlier = next(
            one
            for one in (
                path.with_name(f"{path.name}.before{count}") for count in ("", *range(2, _MOST_EARLIER))
            )
            if not one.exists()
        )
        write_new_file(before, earlier)
        with _beside(path, content) as part:
            part.chmod(stat.S_IMODE(path.stat().st_mode))
            if path.read_bytes() != before:
                earlier.unlink()
                raise ReportError(
                    f"{path} was changed while you answered; nothing was written", "run the command again."
                )
            os.replace(part, path)
    except StopIteration as exc:
        raise ReportError(
            f"{path} has {_MOST_EARLIER} earlier texts beside it", "delete those that you do not need."
        ) from exc
    except (OSError, ValueError) as exc:
        raise _cannot(path, exc) from exc
    return earlier


def replace_own(path: Path, content: bytes) -> None:
    """Put a file that is pairband's own, not the owner's, in its place, whole or not at all; raises OSError."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with _beside(path, content) as part:
        os.replace(part, path)


def give_free_name(part: Path, path: Path) -> None:
    """Give a finished file a name that no file has, at once; raises FileExistsError where one has it by now."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if path.exists():
            raise FileExistsError(errno.EEXIST, "a file is there already", str(path)) from None
        os.replace(part, path)


def refuse_place(path: Path, content: bytes | None = None) -> None:
    """Raise ReportError where a file may not be written at `path`, whatever is to stand in it.

    A file that already holds `content` is never refused for being a stranger's.
    """
    guard = _GUARD.get()
    try:
        for kept, what in guard.kept:
            if _same_place(path, kept):
                raise ReportError(
                    f"{path} is {what}; nothing was written", "name another file for what pairband writes."
                )
        if path.is_symlink():
            raise ReportError(
                f"{path} is a link to {os.readlink(path)}; nothing was written",
                "name the file itself, or remove the link.",
            )
        if not path.exists():
            return
        if not path.is_file():
            what = "a folder" if path.is_dir() else "not a plain file"
            raise ReportError(f"{path} is {what}; nothing was written", "name a file.")
        if guard.force:
            return
        digest = _digest(path)
    except (OSError, ValueError) as exc:
        raise _cannot(path, exc) from exc
    if content is not None and digest == hashlib.sha256(content).hexdigest():
        return
    if not was_written(digest):
        raise ReportError(
            f"{path} is there already, and pairband did not write it, or it was changed since; "
            "it was left as it is",
            "name another file, move it away, or say --force to replace it.",
        )


@contextmanager
def _beside(path: Path, content: bytes) -> Iterator[Path]:
    """Write a file beside its place, for the inside to give it its name; what is left of it is removed.

    Threads that write beside each other have each a name of their own.
    """
    part = path.with_name(f".pairband-{os.getpid()}-{secrets.token_hex(4)}.part")
    try:
        _write_through(part, content)
        yield part
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _write_through(part: Path, content: bytes) -> None:
    with part.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _same_place(one: Path, other: Path) -> bool:
    """Whether two paths lead to one file: the same file on disk, or where none is yet, the same name."""
    if one.resolve() == other.resolve():
        return True
    return one.exists() and other.exists() and one.samefile(other)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _cannot(path: Path, exc: OSError | ValueError) -> ReportError:
    """Return the error to raise where a file cannot be written."""
    number = exc.errno if isinstance(exc, OSError) else None
    why = (exc.strerror if isinstance(exc, OSError) else None) or str(exc)
    remedy = (
        "make room, or name a file on another disk."
        if number in _FULL
        else "name a folder that you may write to."
    )
    return ReportError(f"{path} cannot be written: {why}; nothing was changed", remedy)
