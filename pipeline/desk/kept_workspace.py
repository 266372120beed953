"""The workspaces that the desk keeps between answers, so that a fit is not loaded again for each."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock

from pipeline.workspace import Workspace, lending

MOST_KEPT = 2
"""So many are kept: for the answer in few words, and for the page that is drawn beside it."""

MOST_HELD = 100_000
"""The sales and other things that a kept one holds at most; beyond, it is let go."""


class KeptWorkspaces:
    """Workspaces, each lent to one thread at a time as long as the folder's files do not change."""

    def __init__(self, make: Callable[[], Workspace]) -> None:
        self._make = make
        self._lock = Lock()
        self._moment: object = None
        self._free: list[Workspace] = []

    @contextmanager
    def lent(self, moment: object) -> Iterator[None]:
        """Let the commands inside use a workspace of this moment (`Desk.moment`), which nobody else uses meanwhile."""
        with self._lock:
            if moment != self._moment:
                self._free, self._moment = [], moment
            workspace = self._free.pop() if self._free else self._make()
        try:
            with workspace, lending(workspace):
                yield
        finally:
            with self._lock:
                if moment == self._moment and len(self._free) < MOST_KEPT and workspace.held <= MOST_HELD:
                    self._free.append(workspace)
