"""Any answer's sheet in the terminal."""

import re
import textwrap

from rich.cells import cell_len
from rich.markup import escape
from rich.table import Table as TerminalTable

from pipeline.answers.sheet import Sheet, Table
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT

MOST_ROWS = 40
_COMMAND = re.compile(r"`[^`]*`")
_UNBROKEN = "\0"


def show_sheet(sheet: Sheet, *, limits: bool = True, most_rows: int = MOST_ROWS) -> None:
    """Print a sheet: the answer first, then its tables, then what to be careful of and where it comes from.

    Of a table at most `most_rows` rows are printed, and how many more there are is said.
    """
    OUT.print()
    show_prose(sheet.title, style="bold")
    width = max((len(name) for name, _ in sheet.figures), default=0)
    for name, value in sheet.figures:
        OUT.print(f"{escape(name):<{width}}  [bold]{escape(value)}[/bold]", soft_wrap=True)
    for sentence in sheet.sentences:
        show_prose(sentence)
    for table in sheet.tables:
        show_table(table, most_rows=most_rows)
    for warning in sheet.warnings:
        show_prose(f"! {warning}")
    if sheet.source:
        show_prose(sheet.source)
    if limits:
        show_prose(" ".join(LIMITS), style="dim")


def show_table(table: Table, *, most_rows: int = MOST_ROWS) -> None:
    """Print a table under its title, and its note; long text is wrapped, numbers and their ends never."""
    rows = table.texts()
    if rows:
        OUT.print()
        show_prose(table.title)
        OUT.print(_laid_out(table, rows[:most_rows]))
    if len(rows) > most_rows:
        OUT.print(f"… and {len(rows) - most_rows:,} more (`--json` has them all).")
    if table.note:
        show_prose(table.note)


def show_prose(text: str, *, style: str = "") -> None:
    """Print sentences wrapped to the terminal's width; what stands in backticks, and every path, in one piece.

    A line that begins with two spaces (a command, a path) is printed as it is.
    """
    for line in text.split("\n"):
        shown = line if line.startswith("  ") else _wrapped(line)
        OUT.print(shown, style=style, markup=False, soft_wrap=True)


def _wrapped(line: str) -> str:
    whole = _COMMAND.sub(lambda command: command[0].replace(" ", _UNBROKEN), line)
    filled = textwrap.fill(whole, OUT.width, break_long_words=False, break_on_hyphens=False)
    return filled.replace(_UNBROKEN, " ")


def _laid_out(table: Table, rows: list[tuple[str, ...]]) -> TerminalTable:
    shown = TerminalTable(box=None, pad_edge=False, header_style="bold")
    for position, column in enumerate(table.columns):
        parts = [*column.heading.split(), *(row[position] for row in rows)]
        shown.add_column(
            escape(column.heading),
            justify="right" if column.number else "left",
            min_width=max(map(cell_len, parts)) if column.number else None,
            overflow="fold",
        )
    for row in rows:
        shown.add_row(*map(escape, row))
    return shown
