"""The last catch: whatever ends a command is reported in plain words, and an unexpected error is logged."""

import errno

import click

from pipeline.errors import PairbandError
from pipeline.state import log_error

STOPPED = 130
"""The exit code of a command that its owner stopped (128 + SIGINT, as shells count)."""

_NOTHING_LOST = "Nothing of yours was lost: the ledger is as it was before this step."


def words_of(exc: BaseException, arguments: list[str]) -> tuple[str, int]:
    """Return what to say of an error, and the exit code; an unexpected one is logged."""
    match exc:
        case PairbandError():
            stopped = isinstance(exc.__cause__, KeyboardInterrupt)
            return f"pairband: {exc}", STOPPED if stopped else 1
        case click.Abort() | KeyboardInterrupt() | EOFError():
            return f"\npairband: stopped. {_NOTHING_LOST}", STOPPED
        case click.ClickException():
            return f"Error: {exc.format_message()}", exc.exit_code
        case MemoryError():
            what = "this machine has too little free memory for it"
        case RecursionError():
            what = "something in a file is nested too deeply"
        case OSError() if exc.errno == errno.ENOSPC:
            what = f"no space is left{_where(exc) or ' where pairband prints to'}"
        case OSError() if exc.strerror:
            what = f"{exc.strerror}{_where(exc)}"
        case _:
            what = f"an unexpected error: {type(exc).__name__}: {_first_line(exc)}"
    log = log_error(exc, arguments)
    kept = f"The details are in {log}." if log else "`pairband --debug …` shows the details."
    return f"pairband: {what}\n{_NOTHING_LOST} {kept}", 1


def _where(exc: OSError) -> str:
    return f": {exc.filename}" if exc.filename is not None else ""


def _first_line(exc: BaseException) -> str:
    lines = str(exc).strip().splitlines()
    return lines[0] if lines else "no message"
