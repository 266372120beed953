"""Read a small file of the owner's: plain files only, of a size that can be held, and faults in words."""

import stat
from pathlib import Path

from pipeline.errors import PairbandError


def refuse_special(path: Path, what: str, *, fault: type[PairbandError] = PairbandError) -> None:
    """Raise `fault` where a path names a folder, a pipe or a device; a link is followed to what it names.

    `what` is what the file should be, such as "market file". Opening a pipe would wait for somebody to write
    to it, and a device may never end. Raises OSError or ValueError where the path cannot be looked at.
    """
    mode = path.stat().st_mode
    if not stat.S_ISREG(mode):
        raise fault(f"the {what} {path} is no plain file: it is {_kind(mode)}", "name a plain file.")


def read_plain_file(
    path: Path, what: str, most_bytes: int, *, fault: type[PairbandError] = PairbandError, missing: str = ""
) -> bytes:
    """Return the bytes of a plain file; `missing` says what to do where there is none.

    Raises `fault` where the file is missing, no plain file, larger than `most_bytes`, or cannot be read.
    """
    try:
        refuse_special(path, what, fault=fault)
        with path.open("rb") as file:
            content = file.read(most_bytes + 1)
    except FileNotFoundError as exc:
        raise fault(f"there is no {what} {path}", missing) from exc
    except (OSError, ValueError) as exc:
        reason = exc.strerror if isinstance(exc, OSError) and exc.strerror else exc
        raise fault(
            f"the {what} {path} cannot be read: {reason}", "name a file that you may read, by its whole name."
        ) from exc
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


def _kind(mode: int) -> str:
    if stat.S_ISDIR(mode):
        return "a folder"
    return "a pipe or a socket" if stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode) else "a device"
