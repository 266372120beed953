"""The invented scenario, from exports to pages."""

import os
import shutil
import sys
from pathlib import Path

import click

from pipeline import clock, options


@options.command()
@click.argument("directory", type=options.OUTPUT_FOLDER, default="demo")
def demo(directory: Path) -> None:
    """Write the invented scenario, read it, fit it, value three pairs and build their pages.

    DIRECTORY is a folder for it; left out, `demo`.

    Example: pairband demo
    """
    from pipeline.answers.demo.run import run_demo
    from pipeline.answers.demo.tables import demo_sheet
    from pipeline.terminal.progress import progress
    from pipeline.terminal.sheet import show_sheet

    with progress("building the demo") as on_progress:
        outcome = run_demo(directory, now=clock.now(), on_progress=on_progress)
    show_sheet(demo_sheet(outcome, _own_command(directory)))


def _own_command(directory: Path) -> str:
    """Return how this program is called from a folder: by its name where the shell finds it."""
    if shutil.which("pairband"):
        return "pairband"
    return os.path.relpath(sys.argv[0], directory)
