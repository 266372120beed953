"""Any answer's sheet in the terminal."""

import re
import textwrap

from rich.cells import cell_len
from rich.console import JustifyMethod
from rich.markup import escape
from rich.table import Table as TerminalTable

from pipeline import glossary
from pipeline.answers.sheet import Sheet, Table
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT

MOST_ROWS = 40
EXPLAINED = ("all-in",)
"""The terms that a sheet in the terminal explains; pages explain every term, since they have the room."""

_COMMAND = re.compile(r"`[^`]*`")
_UNBROKEN = "\0"
_GAP = 2
"""The space between two columns."""

_LONGEST_WORD = 16
"""Words up to this long are not broken: a record's id is as long."""


def show_sheet(sheet: Sheet, *, limits: bool = True, most_rows: int = MOST_ROWS) -> None:
    """Print a sheet: the answer first, then its tables, then what to be careful of and where it comes from.

    Of a table at most `most_rows` rows are printed, and how many more there are is said.
    """
    OUT.print()
    show_prose(sheet.title, style="bold")
    if sheet.weak:
        show_prose(f"! {sheet.weak}")
    width = max((len(name) for name, _ in sheet.figures), default=0)
    for name, value in sheet.figures:
        OUT.print(f"{escape(name):<{width}}  [bold]{escape(value)}[/bold]", soft_wrap=True)
    for sentence in sheet.sentences:
        show_prose(sentence)
    for table in sheet.tables:
        show_table(table, most_rows=most_rows)
    for warning in sheet.warnings:
        show_prose(f"! {warning}")
    for term in _explained(sheet):
        show_prose(f"{term.name.capitalize()}: {term.meaning}")
    if sheet.source:
        show_prose(sheet.source)
    if limits:
        show_prose(" ".join(LIMITS), style="dim")


def _explained(sheet: Sheet) -> list[glossary.Term]:
    """Return the terms that are explained under a sheet that uses them."""
    headings = [column.heading for table in sheet.tables for column in table.columns]
    names = [name for name, _ in sheet.figures]
    said = ". ".join((*names, *sheet.sentences, *(table.title for table in sheet.tables), *headings))
    return [term for term in glossary.terms_in(said) if term.name in EXPLAINED]


def show_table(table: Table, *, most_rows: int = MOST_ROWS) -> None:
    """Print a table under its title, and its note; text is wrapped, numbers never.

    Columns that do not fit beside those before them are left out, and named under the table.
    """
    rows = table.texts()
    if rows:
        OUT.print()
        show_prose(table.title)
        left_out = _show_columns(table, rows[:most_rows])
        if left_out:
            show_prose(f"Too wide for this window: {', '.join(left_out)}.")
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


def _show_columns(table: Table, rows: list[tuple[str, ...]]) -> list[str]:
    """Print the columns that fit and return the headings of those that do not."""
    cells = [[column.heading, *(row[at] for row in rows)] for at, column in enumerate(table.columns)]
    widest = [max(map(cell_len, column)) for column in cells]
    narrowest = [
        _narrowest(texts, number=column.number) for column, texts in zip(table.columns, cells, strict=True)
    ]
    fitting = 1
    while fitting < len(cells) and sum(narrowest[: fitting + 1]) + _GAP * fitting <= OUT.width:
        fitting += 1
    shown = TerminalTable(box=None, pad_edge=False, header_style="bold")
    widths = _widths(narrowest[:fitting], widest[:fitting], OUT.width - _GAP * (fitting - 1))
    for column, width in zip(table.columns, widths, strict=False):
        justify: JustifyMethod = "right" if column.number else "left"
        shown.add_column(escape(column.heading), justify=justify, width=width, overflow="fold")
    for row in rows:
        shown.add_row(*map(escape, row[:fitting]))
    OUT.print(shown)
    return [column.heading for column in table.columns[fitting:]]


def _narrowest(texts: list[str], *, number: bool) -> int:
    """Return the least width of a column: its numbers whole, and words up to _LONGEST_WORD in one piece."""
    heading, *values = texts
    longest = max((cell_len(word) for text in texts for word in text.split()), default=0)
    if not number:
        return min(longest, _LONGEST_WORD)
    return max(map(cell_len, [*heading.split(), *values]))


def _widths(narrowest: list[int], widest: list[int], room: int) -> list[int]:
    """Return the widths of columns: the room that is left goes to those that can use it, evenly."""
    widths = list(narrowest)
    while (left := room - sum(widths)) > 0:
        growing = [at for at, width in enumerate(widths) if width < widest[at]][:left]
        if not growing:
            break
        for at in growing:
            widths[at] += 1
    return widths
