"""Read a file of the owner's whole: plain files only, of limited size, and errors in words."""

import os
import stat
from pathlib import Path

from pipeline.errors import PairbandError

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def refuse_special(path: Path, what: str, *, fault: type[PairbandError] = PairbandError) -> None:
    """Raise `fault` where a folder, a pipe or a device lies at a path, or its folder may not be entered.

    What is not there at all is no fault; a link is followed to what it names. `what` is what the file should be,
    such as "market file". Opening a pipe would wait for somebody to write to it, and a device may never end.
    """
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return
    except (OSError, ValueError) as exc:
        raise _unreadable(path, what, exc, fault) from exc
    _refuse_mode(mode, path, what, fault)


def read_plain_file(
    path: Path, what: str, most_bytes: int, *, fault: type[PairbandError] = PairbandError, missing: str = ""
) -> bytes:
    """Return the bytes of a plain file; `missing` says what to do where there is none.

    Raises `fault` where the file is missing, not a plain file, larger than `most_bytes`, or cannot be read.
    """
    refuse_special(path, what, fault=fault)
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))  # never waits for a pipe
        try:
            _refuse_mode(os.fstat(handle).st_mode, path, what, fault)
            with open(handle, "rb", closefd=False) as file:
                content = file.read(most_bytes + 1)
        finally:
            os.close(handle)
    except FileNotFoundError as exc:
        raise fault(f"there is no {what} {path}", missing) from exc
    except (OSError, ValueError) as exc:
        raise _unreadable(path, what, exc, fault) from exc
    if len(content) > most_bytes:
        raise fault(
            f"the {what} {path} is too large: {most_bytes:,} bytes are the most that are read",
            "look at whether it is the file that you mean.",
        )
    return content


def read_plain_text(
    path: Path, what: str, most_bytes: int, *, fault: type[PairbandError] = PairbandError, missing: str = ""
) -> str:
    """Return the text of a plain file in UTF-8, with or without a byte order mark; raises as `read_plain_file`."""
    content = read_plain_file(path, what, most_bytes, fault=fault, missing=missing)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        line = content.count(b"\n", 0, exc.start) + 1
        raise fault(
            f"the {what} {path} cannot be read: line {line} is not UTF-8 text", "save it again as UTF-8."
        ) from exc


def _unreadable(
    path: Path, what: str, exc: OSError | ValueError, fault: type[PairbandError]
) -> PairbandError:
    reason = exc.strerror if isinstance(exc, OSError) and exc.strerror else exc
    return fault(
        f"the {what} {path} cannot be read: {reason}", "name a file that you may read, by its whole name."
    )


def _refuse_mode(mode: int, path: Path, what: str, fault: type[PairbandError]) -> None:
    kind = next((name for holds, name in _KINDS if holds(mode)), None)
    if kind is not None:
        raise fault(f"the {what} {path} is not a plain file: it is {kind}", "name a plain file.")
