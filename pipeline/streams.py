"""The three standard streams: open before anything else, and safe to print any text to.

What comes from an export, a file name or an option may hold escape sequences that move the cursor, rename the
window or hide text. `visible` shows each such character as its code instead.
"""

import codecs
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pipeline.captured import captured
from pipeline.errors import PairbandError

_LINES = "\n\t"
_HIDDEN = {
    **{code: f"\\x{code:02x}" for code in (*range(0x20), *range(0x7F, 0xA0)) if chr(code) not in _LINES},
    **{code: f"\\u{code:04x}" for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F)},
}
"""Control characters (ISO/IEC 6429: C0, DEL, C1) and those that turn the direction of text (Unicode UAX 9)."""

_PLAINER = {"–": "-", "−": "-", "…": "...", "×": "x", "½": "1/2", "·": ".", "≥": ">=", "≤": "<=", "’": "'"}
_PLAINER |= {"“": '"', "”": '"', "€": "EUR ", "±": "+/-", "→": "->"}


def visible(text: str) -> str:
    """Return a text in which every control character but line end and tab is shown as its code."""
    return text.translate(_HIDDEN)


def open_standard_streams() -> None:
    """Open the streams 0 to 2 that are closed onto the null device, so that no file of ours takes their number.

    Call it before any file is opened. Text that a stream's encoding lacks is written plainer, never refused.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free: this one
    codecs.register_error("pairband.plainer", _plainer)
    for name in ("stdin", "stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "r+" if name == "stdin" else "w"))  # noqa: SIM115
        elif name != "stdin" and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="pairband.plainer")


def can_ask() -> bool:
    """Return whether somebody sits at a terminal who can be asked what a command does not know."""
    return captured() is None and sys.stdin.isatty()


@contextmanager
def libraries_silenced() -> Iterator[None]:
    """Send what a library prints past Python, into the stream 1 itself, to the null device.

    A solver's remark would else stand in the middle of JSON. What the C library holds back is written out before the
    stream is changed, and before it is put back.
    """
    import ctypes

    c_library = ctypes.CDLL(None)
    c_library.fflush(None)
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        c_library.fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def write_text(text: str, *, err: bool = False) -> None:
    """Write text to stdout or stderr, control characters shown; a reader that has left is no error."""
    if (kept := captured()) is not None:
        kept.said.append(visible(text))
        return
    stream = sys.stderr if err else sys.stdout
    try:
        stream.write(visible(text))
        stream.flush()
    except BrokenPipeError:
        forget_reader(err=err)


def say(words: str, *, err: bool = False) -> None:
    """Print a line of plain words to stdout or stderr."""
    write_text(words + "\n", err=err)


def show_document(text: str) -> None:
    """Print a CSV or TOML document: on a terminal safe to look at, into a file or pipe as UTF-8, as it is."""
    if (kept := captured()) is not None:
        kept.documents.append(text)
        return
    if sys.stdout.isatty() or not hasattr(sys.stdout, "buffer"):
        write_text(text)
        return
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode("utf-8", "backslashreplace"))
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        forget_reader()


def refuse_as_stdout(path: Path, what: str) -> None:
    """Raise PairbandError where stdout goes into a file that what is printed would break."""
    try:
        same = os.path.samestat(os.fstat(sys.stdout.fileno()), path.stat())
    except (OSError, ValueError):
        return
    if same:
        raise PairbandError(
            f"the output would go into {path}, {what}; nothing was printed",
            "in a terminal `pairband map FILE` writes the map there itself; or print it into another file.",
        )


def forget_reader(*, err: bool = False) -> None:
    """Send what is still printed to the null device: whoever read it has left, as `head` does."""
    stream = sys.stderr if err else sys.stdout
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def leave_full_streams() -> None:
    """Drop what a stream could not take, so that the end of the process does not fail on it once more."""
    for err in (False, True):
        try:
            (sys.stderr if err else sys.stdout).flush()
        except (OSError, ValueError):
            forget_reader(err=err)


def _plainer(exc: UnicodeError) -> tuple[str, int]:
    """Return the plainer form of what an encoding lacks: a sign in ASCII, else its code."""
    if not isinstance(exc, UnicodeEncodeError):
        raise exc
    lacking = exc.object[exc.start : exc.end]
    coded = (
        _PLAINER.get(sign) or sign.encode("ascii", "backslashreplace").decode("ascii") for sign in lacking
    )
    return "".join(coded), exc.end
