"""What a command says and makes, kept for a caller in the same process instead of printed and written.

The desk runs the very commands of the command line inside `capturing()`, so an answer there is theirs by construction.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.answers.sheet import Sheet, Table

OnProgress = Callable[[str, int, int], None]


def unheard(_step: str, _done: int, _total: int) -> None:
    """Let progress go by."""


@dataclass
class Captured:
    """What one command said and made; `on_progress` is called as its long work goes on.

    `tables` are those that --csv and --excel would write, `pages` the HTML by the name of the file that was asked for;
    where pages are not taken, they are written.
    """

    on_progress: OnProgress = unheard
    takes_pages: bool = True
    sheets: list["Sheet"] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    documents: list[str] = field(default_factory=list)
    tables: list["Table"] = field(default_factory=list)
    pages: dict[str, str] = field(default_factory=dict)


_CAPTURED: ContextVar[Captured | None] = ContextVar("captured", default=None)


def captured() -> Captured | None:
    """Return what the command that runs is captured in; None where it prints."""
    return _CAPTURED.get()


def takes_pages() -> Captured | None:
    """Return what the pages that a command makes go to; None where they are written."""
    kept = captured()
    return kept if kept is not None and kept.takes_pages else None


@contextmanager
def capturing(on_progress: OnProgress = unheard, *, takes_pages: bool = True) -> Iterator[Captured]:
    """Capture what commands inside say and make."""
    kept = Captured(on_progress, takes_pages)
    before = _CAPTURED.set(kept)
    try:
        yield kept
    finally:
        _CAPTURED.reset(before)
