"""The workspace that the desk keeps between answers, so that a fit is not loaded again for each."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock

from pipeline.workspace import Workspace, lending

MOST_HELD = 100_000
"""The sales and other things that it holds at most; beyond, it begins anew."""


class KeptWorkspace:
    """One workspace, lent to one thread at a time as long as the folder's files do not change."""

    def __init__(self, make: Callable[[], Workspace]) -> None:
        self._make = make
        self._lock = Lock()
        self._moment: object = None
        self._kept: Workspace | None = None

    @contextmanager
    def lent(self, moment: object) -> Iterator[None]:
        """Let the commands inside use the workspace of this moment (`Desk.moment`).

        Where another thread has it, they open their own.
        """
        if not self._lock.acquire(blocking=False):
            yield
            return
        try:
            if self._kept is None or moment != self._moment or self._kept.held > MOST_HELD:
                self._kept, self._moment = self._make(), moment
            with self._kept, lending(self._kept):
                yield
        finally:
            self._lock.release()
