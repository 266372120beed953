"""Long work that can be stopped: it calls its `heed` again and again, and what that raises ends it."""

from collections.abc import Callable

Heed = Callable[[], None]


def go_on() -> None:
    """Let the work go on."""
