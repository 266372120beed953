"""A bar while longer work goes on."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

from pipeline.captured import OnProgress, captured, unheard
from pipeline.terminal.console import ERR


@dataclass(frozen=True)
class Bar:
    """A bar that is called with (step, done, total) as work goes on."""

    what: str
    shown: Progress
    task: TaskID
    heard: OnProgress

    def __call__(self, step: str, done: int, total: int) -> None:
        """Show how far a step is."""
        self.heard(step, done, total)
        self.shown.update(self.task, description=f"{self.what}: {escape(step)}", completed=done, total=total)

    @contextmanager
    def away(self) -> Iterator[None]:
        """Take the bar away while something is asked."""
        self.shown.stop()
        yield
        self.shown.start()


@contextmanager
def progress(what: str, *, quiet: bool = False) -> Iterator[Bar]:
    """Show a bar on stderr while work goes on; what captures the command hears of it instead."""
    kept = captured()
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=ERR,
        transient=True,
        disable=quiet or kept is not None or not ERR.is_terminal,
    ) as bar:
        yield Bar(what, bar, bar.add_task(what, total=None), unheard if kept is None else kept.on_progress)
