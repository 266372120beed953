"""What the desk has to say at the top of the next page."""

from dataclasses import dataclass
from threading import Lock


@dataclass(frozen=True)
class Notice:
    """Something that a page says at its top, with a link or a button to what follows from it."""

    words: str
    link: str = ""
    href: str = ""
    post: str = ""


class Notices:
    """What was done, to be said once, on the page that is shown next."""

    def __init__(self) -> None:
        self._waiting: list[Notice] = []
        self._lock = Lock()

    def add(self, words: str, link: str = "", href: str = "") -> None:
        """Have the next page say something."""
        with self._lock:
            self._waiting.append(Notice(words, link, href))

    def take(self) -> tuple[Notice, ...]:
        """Return what is to be said, which then is no longer waiting."""
        with self._lock:
            taken, self._waiting = tuple(self._waiting), []
        return taken
