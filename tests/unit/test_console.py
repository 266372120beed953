"""What the terminal prints is what the records hold."""

import io
import os

import pytest
from rich.table import Table

from pipeline.terminal.console import OUT


def test_a_word_between_colons_stays_as_it_was_written() -> None:
    table = Table("title")
    table.add_row("Gannet Hi :shoe: 1987")
    with OUT.capture() as printed:
        OUT.print(table)
        OUT.print("Plover Lo :gift: box")
    assert "Gannet Hi :shoe: 1987" in printed.get()
    assert "Plover Lo :gift: box" in printed.get()


def test_what_goes_into_a_file_has_one_width_whatever_the_window_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.setattr(os, "get_terminal_size", lambda *_: os.terminal_size((200, 50)))

    assert type(OUT)(file=io.StringIO()).width == 80
