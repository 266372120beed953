"""Run a command of the command line for the desk, and keep what it says and makes."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import gettempdir
from typing import TYPE_CHECKING

import click

from pipeline.captured import OnProgress, capturing, unheard
from pipeline.cli import app
from pipeline.last_catch import words_of

if TYPE_CHECKING:
    from pipeline.answers.sheet import Sheet, Table

NOT_WRITTEN = Path(gettempdir()) / "pairband-desk-page"
"""A folder that is never made: outputs that are captured are named in it."""


@dataclass(frozen=True)
class Called:
    """What a command said and made; `fault` is what it ended with in words, "" where it did what was asked."""

    command: str
    arguments: tuple[str, ...]
    sheets: tuple["Sheet", ...]
    pages: dict[str, str]
    tables: tuple["Table", ...]
    documents: tuple[str, ...]
    said: tuple[str, ...]
    fault: str


def command_named(name: str) -> click.Command:
    """Return a command of the command line."""
    found = app.get_command(click.Context(app, info_name="pairband"), name)
    if found is None:
        raise KeyError(name)
    return found


def call(
    name: str, arguments: Sequence[str], *, on_progress: OnProgress = unheard, takes_pages: bool = True
) -> Called:
    """Run a command with these arguments, as typed, and return what it said and made; its errors are words.

    What stops a job (`pipeline.desk.jobs.Stopped`) goes through.
    """
    fault = ""
    with capturing(on_progress, takes_pages=takes_pages) as kept:
        command = command_named(name)
        try:
            with command.make_context(name, list(arguments), parent=None) as context:
                command.invoke(context)
        except click.exceptions.Exit:
            pass
        except Exception as exc:  # noqa: BLE001 - every error of a command ends in words
            fault = words_of(exc, [name, *arguments])[0]
    return Called(
        name,
        tuple(arguments),
        tuple(kept.sheets),
        dict(kept.pages),
        tuple(kept.tables),
        tuple(kept.documents),
        tuple(words.strip() for words in kept.said if words.strip()),
        _without_prefix(fault),
    )


def _without_prefix(fault: str) -> str:
    """Return the words of an error without what the command line puts before them."""
    words = fault.strip()
    for prefix in ("pairband: ", "Error: "):
        words = words.removeprefix(prefix)
    return words[:1].upper() + words[1:]
