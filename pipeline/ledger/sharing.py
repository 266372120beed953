"""A ledger that several threads of one process use at once: any number read while one writes.

By itself, a process opens a ledger in one way at a time, and whoever writes is alone with it. Between `sharing()`
and its end, all that this process opens of one file is one engine. Whoever reads sees the ledger as it was when
they opened it; whoever writes waits for the one who writes before them; whoever replaces the file waits until
nobody has it open. When the last has closed it, the file is free for other processes.
"""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic
from typing import Any, Protocol
from weakref import WeakSet

from pipeline.errors import LedgerError

_LOOKS_UP = 0.1
"""Seconds after which whoever waits looks whether they have been stopped, or another process has let go."""

PATIENCE = 5.0
"""Seconds that a change waits for the one before it, unless its work says otherwise."""


class Stopped(KeyboardInterrupt):
    """The owner stopped a piece of work; nothing that catches errors takes it for one."""


class Interruptible(Protocol):
    """What is open for a piece of work, and can be made to give up what it is doing."""

    def interrupt(self) -> None:
        """Give up the statement that runs, if one does."""


@dataclass(eq=False)
class Work:
    """A piece of work: what others hear of it, and how many seconds it waits for them."""

    what: str
    patience: float = PATIENCE
    stopping: threading.Event = field(default_factory=threading.Event)
    _opened: WeakSet[Interruptible] = field(default_factory=WeakSet)
    _lock: Any = field(default_factory=threading.RLock)

    def note_open(self, one: Interruptible) -> None:
        """Remember what is open for this work, for as long as it is."""
        with self._lock:
            self._opened.add(one)

    def note_closed(self, one: Interruptible) -> None:
        """Forget what was open for this work."""
        with self._lock:
            self._opened.discard(one)

    def stop_if_asked(self) -> None:
        """Raise Stopped where the owner has stopped this work."""
        if self.stopping.is_set():
            raise Stopped

    def interrupt(self) -> None:
        """Have what is open for this work give up the statement that runs."""
        with self._lock:
            opened = tuple(self._opened)
        for one in opened:
            one.interrupt()


_WORK: ContextVar[Work | None] = ContextVar("work", default=None)
_ALONE: ContextVar[bool] = ContextVar("alone", default=False)


@contextmanager
def under_way(work: Work) -> Iterator[None]:
    """Say what the thread does while the block runs."""
    token = _WORK.set(work)
    try:
        yield
    finally:
        _WORK.reset(token)


@dataclass(eq=False)
class _Use:
    """How this process uses one file: who has it open, who of them writes, who is alone with it."""

    turn: threading.Condition = field(default_factory=threading.Condition)
    seats: int = 0
    engine_reads_only: bool = False
    writer: Work | None = None
    alone: Work | None = None


@dataclass
class _Shared:
    """What is shared now: how often sharing was begun, and the files."""

    depth: int = 0
    uses: dict[Path, _Use] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def use(self, file: Path) -> _Use:
        """Return how this process uses a file."""
        with self.lock:
            return self.uses.setdefault(file, _Use())


_SHARED = _Shared()


@contextmanager
def sharing() -> Iterator[None]:
    """Let the threads of this process use one ledger at once while the block runs."""
    with _SHARED.lock:
        _SHARED.depth += 1
    try:
        yield
    finally:
        with _SHARED.lock:
            _SHARED.depth -= 1


@dataclass(eq=False)
class Seat:
    """The right to have a ledger open; `is_first` where nobody in this process had it open before.

    `shared` says whether others may have it open too. `engine_reads_only` is set by whoever is first.
    """

    work: Work
    is_first: bool = True
    use: _Use | None = None
    writes: bool = False

    @property
    def shared(self) -> bool:
        """Whether other threads may have the file open."""
        return self.use is not None

    @property
    def engine_reads_only(self) -> bool:
        """Whether the engine has the file open for reading only."""
        return self.use is not None and self.use.engine_reads_only

    @engine_reads_only.setter
    def engine_reads_only(self, value: bool) -> None:
        if self.use is not None:
            self.use.engine_reads_only = value

    def leave(self, close: Callable[[], None] = lambda: None) -> None:
        """Close what was opened, and let others have their turn."""
        if self.use is None:
            close()
            return
        with self.use.turn:
            try:
                close()
            finally:
                self.use.seats -= 1
                if self.writes:
                    self.use.writer = None
                self.use.turn.notify_all()


@contextmanager
def seat_at(file: Path, *, writes: bool) -> Iterator[Seat]:
    """Give the right to open a file, once it is one's turn; nobody else opens or closes it while the block runs.

    It is kept beyond the block, until `leave`, unless the block fails. Raises LedgerError, with what is under way,
    where another does not end in time.
    """
    work = _WORK.get() or Work("another change")
    if not _SHARED.depth or _ALONE.get():
        yield Seat(work, writes=writes)
        return
    use = _SHARED.use(file)
    with use.turn:
        _wait(use, file, work, lambda: _in_the_way(use, writes=writes))
        yield Seat(work, use.seats == 0, use, writes)
        use.seats += 1
        if writes:
            use.writer = work


@contextmanager
def alone_in_process(path: Path) -> Iterator[None]:
    """Have no other thread of this process open a ledger while its file is copied or replaced.

    Raises LedgerError, with what is under way, where others do not close it in time.
    """
    if not _SHARED.depth or _ALONE.get():
        yield
        return
    work = _WORK.get() or Work("a copy of the ledger")
    file = Path(os.path.realpath(path))
    use = _SHARED.use(file)
    with use.turn:
        _wait(use, file, work, lambda: _anyone(use))
        use.alone = work
    token = _ALONE.set(True)
    try:
        yield
    finally:
        _ALONE.reset(token)
        with use.turn:
            use.alone = None
            use.turn.notify_all()


def is_open_here(path: Path) -> bool:
    """Whether a thread of this process shares this file: who opened and closed it otherwise would let its lock go."""
    if not _SHARED.depth:
        return False
    use = _SHARED.use(Path(os.path.realpath(path)))
    return use.seats > 0


def _in_the_way(use: _Use, *, writes: bool) -> str | None:
    """Return what has to end before the file can be opened, None where nothing has to."""
    if use.alone is not None:
        return use.alone.what
    if writes and use.writer is not None:
        return use.writer.what
    if writes and use.seats and use.engine_reads_only:
        return "another process reads the ledger, and so does an answer here"
    return None


def _anyone(use: _Use) -> str | None:
    """Return what has to end before nobody has the file open."""
    if use.alone is not None or use.writer is not None:
        return (use.alone or use.writer or Work("")).what
    return "an answer is being made from it" if use.seats else None


def _wait(use: _Use, file: Path, work: Work, in_the_way: Callable[[], str | None]) -> None:
    until = monotonic() + work.patience
    while (what := in_the_way()) is not None:
        work.stop_if_asked()
        if monotonic() >= until:
            raise LedgerError(
                f"{file} is in use: {what}; nothing was changed", "wait until that has ended, or stop it."
            )
        use.turn.wait(_LOOKS_UP)
