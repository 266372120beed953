"""What the terminal prints is what the records hold."""

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
