"""A bar while longer work goes on."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

from pipeline.terminal.console import ERR


@contextmanager
def progress(what: str, *, quiet: bool = False) -> Iterator[Callable[[str, int, int], None]]:
    """Show a bar on stderr while work goes on; yields `on_progress(step, done, total)`."""
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=ERR,
        transient=True,
        disable=quiet or not ERR.is_terminal,
    ) as bar:
        task: TaskID = bar.add_task(what, total=None)

        def on_progress(step: str, done: int, total: int) -> None:
            bar.update(task, description=f"{what}: {escape(step)}", completed=done, total=total)

        yield on_progress
