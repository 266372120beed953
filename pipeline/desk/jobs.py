"""Work that goes on while the desk answers: begun, watched, stopped, one change of the ledger after another."""

import secrets
import threading
from collections.abc import Callable
from contextvars import copy_context
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from time import monotonic
from typing import Any, Generic, TypeVar

from pipeline.clock import now
from pipeline.last_catch import words_of
from pipeline.ledger.sharing import Stopped, Work, under_way

T = TypeVar("T")
OnProgress = Callable[[str, int, int], None]

AT_ONCE = 2
"""So many jobs that only read run at a time."""

KEPT = 20
"""So many jobs that have ended are remembered."""

PATIENCE = 600.0
"""Seconds that a job waits for a change that is made outside of jobs; it can be stopped meanwhile."""

_AGAIN = 0.05
"""Seconds after which a job that has to stop is interrupted again: between two statements it does not notice."""


class State(StrEnum):
    """What became of a job so far."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"


@dataclass(frozen=True)
class Reached:
    """How far a job is: its step, and how much of how much is done; a total of 0 is not known."""

    step: str = ""
    done: int = 0
    total: int = 0


@dataclass(eq=False)
class Job(Generic[T]):
    """A piece of work in the background; `result` is what it returned, `error` says in words why it ended."""

    what: str
    writes: bool
    started_at: datetime
    id: str = field(default_factory=lambda: secrets.token_urlsafe(16))
    state: State = State.WAITING
    reached: Reached = Reached()
    result: T | None = None
    error: str = ""
    _work: Work = field(init=False, repr=False)
    _ended: threading.Event = field(default_factory=threading.Event, init=False, repr=False)

    def __post_init__(self) -> None:
        self._work = Work(self.what, PATIENCE)

    @property
    def ended(self) -> bool:
        """Whether it is over, in whatever way."""
        return self._ended.is_set()

    @property
    def is_stopping(self) -> bool:
        """Whether it was stopped and has not ended yet."""
        return self._work.stopping.is_set() and not self.ended

    def wait(self, seconds: float | None = None) -> bool:
        """Wait until it has ended, so many seconds at most; return whether it has."""
        return self._ended.wait(seconds)

    def cancel(self) -> None:
        """Tell it to stop, if it has not ended: it ends soon, and what it had not kept yet is not kept."""
        if self.ended or self._work.stopping.is_set():
            return
        self._work.stopping.set()
        threading.Thread(target=self._insist, name=f"stop {self.what}").start()

    def _insist(self) -> None:
        while not self._ended.wait(_AGAIN):
            self._work.interrupt()

    def _on_progress(self, step: str, done: int, total: int) -> None:
        self._work.stop_if_asked()
        self.reached = Reached(step, done, total)

    def _run(self, work: Callable[[OnProgress], T]) -> None:
        """Do the work and keep what became of it."""
        try:
            with under_way(self._work):
                self._work.stop_if_asked()
                self.result = work(self._on_progress)
        except BaseException as exc:  # noqa: BLE001 - the thread's last catch
            self._fail(exc)
        else:
            self.state = State.DONE

    def _fail(self, exc: BaseException) -> None:
        stopped = isinstance(exc, KeyboardInterrupt) or isinstance(exc.__cause__, KeyboardInterrupt)
        was_stopped = self._work.stopping.is_set() and stopped
        said, _ = words_of(Stopped() if was_stopped else exc, [self.what])
        self.error = said.strip().removeprefix("pairband: ")
        self.state = State.CANCELLED if was_stopped else State.FAILED


class Jobs:
    """The jobs of a desk: those that write run one after another, beside AT_ONCE that only read."""

    def __init__(self) -> None:
        self._jobs: list[Job[Any]] = []
        self._turn = threading.Condition()
        self._is_closed = False

    def start(self, what: str, work: Callable[[OnProgress], T], *, writes: bool) -> Job[T]:
        """Have `work` done in the background as soon as it is its turn, in the present context; return the job.

        A job that is begun once the desk is closed is cancelled at once.
        """
        job: Job[T] = Job(what, writes, now())
        context = copy_context()
        with self._turn:
            self._jobs.append(job)
            if self._is_closed:
                job._work.stopping.set()
        threading.Thread(target=context.run, args=(self._run, job, work), name=what).start()
        return job

    def find(self, job_id: str) -> Job[Any] | None:
        """Return the job of that id, None where there is none or it is long over."""
        return next((job for job in self.all() if job.id == job_id), None)

    def all(self) -> tuple[Job[Any], ...]:
        """Return the jobs, the last begun first."""
        with self._turn:
            return tuple(reversed(self._jobs))

    def close(self, seconds: float) -> bool:
        """Cancel all jobs and wait for them, so many seconds at most; return whether all have ended."""
        with self._turn:
            self._is_closed = True
        for job in self.all():
            job.cancel()
        until = monotonic() + seconds
        return all(job.wait(max(0.0, until - monotonic())) for job in self.all())

    def _run(self, job: Job[T], work: Callable[[OnProgress], T]) -> None:
        with self._turn:
            while not (self._may_run(job) or job.is_stopping):
                self._turn.wait(_AGAIN)
            job.state = State.RUNNING
        job._run(work)
        with self._turn:
            job._ended.set()
            ended = [one for one in self._jobs if one.ended]
            for old in ended[: max(0, len(ended) - KEPT)]:
                self._jobs.remove(old)
            self._turn.notify_all()

    def _may_run(self, job: Job[Any]) -> bool:
        """Whether fewer run of the job's kind than may, counting those that were begun before it and wait."""
        before = self._jobs[: self._jobs.index(job)]
        rivals = [one for one in before if one.writes == job.writes and not one.ended]
        return len(rivals) < (1 if job.writes else AT_ONCE)
