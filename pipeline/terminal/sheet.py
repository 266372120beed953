"""Any answer's sheet in the terminal."""

from collections.abc import Iterable

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from pipeline import glossary
from pipeline.answers.sheet import Brief, Column, Detail, Sheet, Table
from pipeline.captured import captured
from pipeline.limits import LIMITS
from pipeline.streams import visible
from pipeline.terminal.console import OUT
from pipeline.terminal.wrapping import cut, longest_piece, wrap

MOST_ROWS = 40
MORE = "More: add --details."
EXPLAINED = ("all-in",)
"""The terms that a sheet in the terminal explains; pages explain every term, since they have the room."""

_GAP = "  "
"""The space between two columns."""

_WORDS = (16, 12)
"""Words up to this long are not broken (a record's id is as long); to the second, where columns would not fit."""


def show_sheet(
    sheet: Sheet, *, limits: bool = True, most_rows: int = MOST_ROWS, details: bool | None = None
) -> None:
    """Print a sheet: the answer first, then its tables, then what to be careful of and where it comes from.

    Without `details` at most `most_rows` rows of a table are printed, and how many more there are is said; what is
    marked as a detail is left out, and the last line says how to see it. None stands for a command that cannot be
    asked for details: it prints them, but no more rows.
    """
    if (kept := captured()) is not None:
        kept.sheets.append(sheet)
        return
    OUT.print()
    show_prose(sheet.title, style="bold")
    if sheet.weak:
        show_prose(f"! {sheet.weak}")
    width = max((len(name) for name, _ in sheet.figures), default=0)
    for name, value in sheet.figures:
        OUT.print(Text.assemble(f"{visible(name):<{width}}  ", (visible(value), "bold")), soft_wrap=True)
    for sentence in _wanted(sheet.sentences, details):
        show_prose(sentence)
    for table in sheet.tables:
        if _shown(table, details):
            show_table(table, most_rows=most_rows, details=details)
    for warning in _wanted(sheet.warnings, details):
        show_prose(f"! {warning}")
    for term in _explained(sheet, details):
        show_prose(f"{term.name.capitalize()}: {term.meaning}")
    for line in _wanted((sheet.source,), details):
        show_prose(line)
    if limits:
        show_prose(" ".join(LIMITS), style="dim")
    if details is False and _has_more(sheet, most_rows):
        show_prose(MORE)


def _explained(sheet: Sheet, details: bool | None) -> list[glossary.Term]:
    """Return the terms that are explained under a sheet that uses them in what is shown."""
    tables = [table for table in sheet.tables if _shown(table, details)]
    headings = [column.heading for table in tables for column in table.columns]
    names = [name for name, _ in sheet.figures]
    sentences = _wanted(sheet.sentences, details)
    said = ". ".join((*names, *sentences, *(table.title for table in tables), *headings))
    return [term for term in glossary.terms_in(said) if term.name in EXPLAINED]


def show_table(table: Table, *, most_rows: int = MOST_ROWS, details: bool | None = None) -> None:
    """Print a table under its title, and its note; text is wrapped, numbers never.

    Columns that do not fit beside those before them are left out, and named under the table.
    """
    rows = table.texts()
    shown = len(rows) if details else _row_limit(table, most_rows, details)
    if rows:
        OUT.print()
        show_prose(table.title)
        left_out = _show_columns(table, rows[:shown], details)
        if left_out:
            show_prose(f"Too wide for this window: {', '.join(left_out)}.")
    if len(rows) > shown:
        OUT.print(f"… and {len(rows) - shown:,} more.")
    for note in _wanted((table.note,), details):
        show_prose(note)


def show_prose(text: str, *, style: str = "") -> None:
    """Print sentences wrapped to the terminal's width; what stands in backticks, and every path, in one piece.

    A line that begins with two spaces (a command, a path) is printed as it is.
    """
    for line in text.split("\n"):
        indent = _GAP if line.startswith("! ") else ""
        lines = [line] if line.startswith(_GAP) else wrap(line, OUT.width, whole_words=True, indent=indent)
        OUT.print("\n".join(lines), style=style, markup=False, soft_wrap=True)


def _wanted(texts: Iterable[str], details: bool | None) -> list[str]:
    """Return those of some texts that are shown with details, or without."""
    hidden = Detail if details is False else Brief
    return [text for text in texts if text and not isinstance(text, hidden)]


def _shown(table: Table, details: bool | None) -> bool:
    return not (table.detail if details is False else table.brief)


def _row_limit(table: Table, most_rows: int, details: bool | None) -> int:
    return most_rows if table.first is None or details is not False else table.first


def _has_more(sheet: Sheet, most_rows: int) -> bool:
    """Return whether there is more of a sheet with details."""
    texts = (*sheet.sentences, *sheet.warnings, sheet.source, *(table.note for table in sheet.tables))
    return any(isinstance(text, Brief | Detail) and text for text in texts) or any(
        table.rows.height
        and (
            table.detail
            or table.rows.height > _row_limit(table, most_rows, details=False)
            or any(column.detail or column.cut for column in table.columns)
        )
        for table in sheet.tables
        if not table.brief
    )


def _show_columns(table: Table, rows: list[tuple[str, ...]], details: bool | None) -> list[str]:
    """Print the columns that fit and return the headings of those that do not."""
    shown = [
        (column, [visible(row[at]) for row in rows])
        for at, column in enumerate(table.columns)
        if details is not False or not column.detail
    ]
    narrowest = [_narrowest(column, texts, _WORDS[0]) for column, texts in shown]
    if _together(narrowest) > OUT.width:
        narrowest = [_narrowest(column, texts, _WORDS[1]) for column, texts in shown]
    fitting = 1
    while fitting < len(shown) and _together(narrowest[: fitting + 1]) <= OUT.width:
        fitting += 1
    left_out = [column.heading for column, _ in shown[fitting:]]
    shown = shown[:fitting]
    room = OUT.width - _together([0] * fitting)
    widths = narrowest[:fitting]
    for whole in (False, True):  # texts first, then headings of numbers on one line
        widest = [_widest([column.heading] * (whole or not column.number) + texts) for column, texts in shown]
        widths = _widths(widths, widest, room)
    columns = [column for column, _ in shown]
    headings = [wrap(column.heading, width) for column, width in zip(columns, widths, strict=True)]
    for line in _lines(columns, headings, widths, bottom=True):
        OUT.print(Text(line, "bold"), soft_wrap=True)
    for row in zip(*(texts for _, texts in shown), strict=True):
        cells = [
            [cut(text, width)] if column.cut and details is False else _wrapped(text, width)
            for column, text, width in zip(columns, row, widths, strict=True)
        ]
        for line in _lines(columns, cells, widths):
            OUT.print(Text(line), soft_wrap=True)
    return left_out


def _wrapped(text: str, width: int) -> list[str]:
    return [line for part in text.split("\n") for line in wrap(part, width)]


def _lines(
    columns: list[Column], cells: list[list[str]], widths: list[int], *, bottom: bool = False
) -> list[str]:
    """Return the lines of one row, its cells beside each other, numbers flush right; short cells end at the bottom
    where that is asked for.
    """
    height = max(map(len, cells))
    filled = [[""] * ((height - len(cell)) * bottom) + cell for cell in cells]
    lines = []
    for at in range(height):
        parts = []
        for column, cell, width in zip(columns, filled, widths, strict=True):
            text = cell[at] if at < len(cell) else ""
            room = " " * (width - cell_len(text))
            parts.append(room + text if column.number else set_cell_size(text, width))
        lines.append(_GAP.join(parts).rstrip())
    return lines


def _together(widths: list[int]) -> int:
    """Return the width of columns with the space between them."""
    return sum(widths) + len(_GAP) * (len(widths) - 1)


def _narrowest(column: Column, texts: list[str], most: int) -> int:
    """Return the least width of a column: its numbers whole, and words up to `most` in one piece."""
    heading = longest_piece(column.heading)
    if column.number:
        return max(heading, _widest(texts))
    return max(min(heading, most), min(max(map(longest_piece, texts), default=0), most))


def _widest(texts: list[str]) -> int:
    return max((cell_len(line) for text in texts for line in text.split("\n")), default=0)


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
