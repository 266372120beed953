"""What pairband remembers for itself, outside any ledger: the errors it met and the files it wrote.

It lies in `$XDG_STATE_HOME/pairband`, or `~/.local/state/pairband` (XDG Base Directory Specification 0.8).
Nothing here is needed for an answer: where the folder cannot be written to, pairband goes on without it.
"""

import os
import traceback
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

MOST_LOG_BYTES = 1_000_000
MOST_WRITTEN = 50_000
"""How many digests of written files are kept; the oldest go first."""

_DIGEST_LINE = 65


def state_folder() -> Path:
    """Return the folder for pairband's own state; it need not exist."""
    named = os.getenv("XDG_STATE_HOME", "")
    base = Path(named) if named.startswith("/") else Path("~/.local/state").expanduser()
    return base / "pairband"


def log_error(exc: BaseException, arguments: list[str]) -> Path | None:
    """Add an error with its traceback to the log; return the log's path, or None where it cannot be kept."""
    trace = "".join(traceback.format_exception(exc))
    entry = f"{datetime.now(UTC).isoformat(timespec='seconds')} pairband {' '.join(arguments)}\n{trace}\n"
    path = state_folder() / "errors.log"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and path.stat().st_size > MOST_LOG_BYTES:
            path.replace(path.with_suffix(".old.log"))
        with path.open("a", encoding="utf-8", errors="backslashreplace") as file:
            file.write(entry)
    except (OSError, ValueError):
        return None
    return path


def note_written(digest: str) -> None:
    """Remember the SHA-256 of a file that pairband wrote."""
    path = state_folder() / "written"
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and path.stat().st_size > 2 * MOST_WRITTEN * _DIGEST_LINE:
            newest = path.read_text(encoding="ascii", errors="replace").split()[-MOST_WRITTEN:]
            shortened = path.with_name(f"written.{os.getpid()}")
            shortened.write_text("".join(f"{line}\n" for line in newest), encoding="ascii")
            shortened.replace(path)
        with path.open("a", encoding="ascii") as file:
            file.write(f"{digest}\n")


def was_written(digest: str) -> bool:
    """Return whether pairband wrote a file of that SHA-256 and still remembers it."""
    try:
        known = (state_folder() / "written").read_text(encoding="ascii", errors="replace")
    except OSError:
        return False
    return digest in known.split()
