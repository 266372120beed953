"""Tables of an HTML page, as online venues show them and as programs save them under the ending of Excel."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import polars as pl
from lxml import etree

from pipeline.errors import ExportError
from pipeline.ingest.headers import SEARCHED_ROWS, find_header, missing_columns, name_columns
from pipeline.ingest.readers.encoding import decode
from pipeline.ingest.readers.limits import MOST_COLUMNS, refuse_cells, refuse_wide
from pipeline.ingest.readers.table import Hints, TextTable, text_table

_META = re.compile(rb"""<meta[^>]{0,200}?charset\s*=\s*["']?\s*([A-Za-z0-9_:.-]{2,40})""", re.IGNORECASE)
_HEAD_BYTES = 4096
_UNREAD = ("script", "style", "noscript", "template", "svg")
"""Elements that hold no text of a table, whatever stands in them."""

_MOST_SPAN = 65_534
"""Rows or columns that a cell may span (HTML Living Standard, 4.9.11: at most 65534 rows, 1000 columns)."""

_AGAIN = "export it again as CSV or Excel."


def read_web_page(content: bytes, hints: Hints, *, where: str) -> tuple[TextTable, ...]:
    """Return the tables of a page that have the wanted columns, or else all that hold rows.

    A cell that spans rows counts for each of them, in its first column. Tables for layout hold other tables, whose
    text is not theirs. Raises ExportError where the page is damaged, nested too deep, or without a table of rows.
    """
    stated = hints.encoding or _stated_encoding(content)
    try:
        decoded = decode(content, stated, where=where)
    except ExportError:
        if hints.encoding is not None:
            raise
        decoded = decode(content, None, where=where)
    root = _parse(decoded.content, where)
    grids = [_grid(rows, where) for rows in _tables(root)]
    tables = [
        table
        for number, grid in enumerate(grids, start=1)
        if (table := _table(grid, hints, f"table {number}", where)) is not None
    ]
    if not tables:
        raise ExportError(f"{where} is a web page without a table of rows", _AGAIN)
    fitting = [table for table in tables if not missing_columns(table.cells.columns, hints.wanted)] or tables
    if len(fitting) == 1:
        fitting = [_as_table(fitting[0], "")]
    notes = decoded.notes
    return tuple(
        _as_table(table, table.sheet, notes=notes if at == 0 else (), encoding=decoded.encoding)
        for at, table in enumerate(fitting)
    )


def _as_table(
    table: TextTable, sheet: str, *, notes: tuple[str, ...] = (), encoding: str | None = None
) -> TextTable:
    return TextTable(sheet, table.cells, table.row_numbers, notes=notes, encoding=encoding)


def _stated_encoding(content: bytes) -> str | None:
    """Return the encoding that a page states of itself near its beginning."""
    found = _META.search(content[:_HEAD_BYTES])
    return None if found is None else found[1].decode("ascii")


def _parse(content: bytes, where: str) -> etree._Element:
    """Return the page's root without scripts, styles and comments; no entity of its own is expanded."""
    parser = etree.HTMLParser(encoding="utf-8", remove_comments=True, remove_pis=True, no_network=True)
    try:
        root = etree.fromstring(content, parser)
    except (etree.LxmlError, ValueError) as exc:
        raise ExportError(f"{where} cannot be read as a web page: {exc}", _AGAIN) from exc
    limits = [
        entry.message for entry in parser.error_log if entry.type == etree.ErrorTypes.ERR_RESOURCE_LIMIT
    ]
    if limits or root is None:
        why = "it is nested too deep, or a text in it is too long" if limits else "it holds nothing"
        raise ExportError(f"{where} cannot be read as a web page: {why}", _AGAIN)
    etree.strip_elements(root, *_UNREAD, with_tail=False)
    return root


def _tables(root: etree._Element) -> list[list[etree._Element]]:
    """Return the rows of each table, inner tables first taken out of the cells of outer ones."""
    tables = list(root.iter("table"))
    found = []
    for table in reversed(tables):
        found.append(list(table.iter("tr")))
        if table.getparent() is not None and next(table.iterancestors("table"), None) is not None:
            _take_out(table)
    return found[::-1]


def _take_out(element: etree._Element) -> None:
    """Remove an element from its parent, and leave the text that follows it."""
    parent, before = element.getparent(), element.getprevious()
    tail = element.tail or ""
    if parent is None:
        return
    if before is not None:
        before.tail = (before.tail or "") + tail
    else:
        parent.text = (parent.text or "") + tail
    parent.remove(element)


@dataclass
class _Spans:
    """The cells of earlier rows that reach into later ones: by column, what they hold and how many rows are left."""

    open: dict[int, tuple[str, int]] = field(default_factory=dict)

    def fill(self, row: dict[int, str]) -> None:
        """Put what reaches into a row into it."""
        for column, (text, left) in list(self.open.items()):
            row[column] = text
            if left == 1:
                del self.open[column]
            else:
                self.open[column] = (text, left - 1)


def _grid(rows: list[etree._Element], where: str) -> list[list[str]]:
    """Return the cells of a table row by row, all as long as the longest row that holds something at its end."""
    spans, width = _Spans(), 0
    grid: list[dict[int, str]] = []
    for element in rows:
        row: dict[int, str] = {}
        spans.fill(row)
        column = 0
        for cell in element.iterchildren("td", "th"):
            while column in row:
                column += 1
            text, across = _text(cell), _span(cell, "colspan")
            row[column] = text
            row.update(dict.fromkeys(range(column + 1, min(column + across, MOST_COLUMNS + 1)), ""))
            if (down := _span(cell, "rowspan")) > 1:
                spans.open.update(
                    {at: (row[at], down - 1) for at in range(column, column + across) if at in row}
                )
            column += across
        width = max(width, *(at + 1 for at, text in row.items() if text), 0)
        grid.append(row)
        refuse_cells(len(grid) * width, where=where)
    return [[row.get(column, "") for column in range(width)] for row in grid]


def _text(cell: etree._Element) -> str:
    """Return the text of a cell as a page shows it: runs of spaces are one, a line break is one too."""
    return " ".join("".join(_pieces(cell)).split())


def _pieces(cell: etree._Element) -> Iterator[str]:
    yield cell.text or ""
    for inner in cell.iterdescendants():
        if inner.tag in _BREAKS:
            yield " "
        yield inner.text or ""
        yield inner.tail or ""


_BREAKS = frozenset(("br", "p", "div", "li", "tr", "td", "th"))
"""Elements that begin a line of their own."""


def _span(cell: etree._Element, name: str) -> int:
    """Return how many rows or columns a cell spans; what is no number is one."""
    stated = (cell.get(name) or "").strip()
    return min(max(int(stated[:6]), 1), _MOST_SPAN) if stated.isascii() and stated.isdigit() else 1


def _table(grid: list[list[str]], hints: Hints, sheet: str, where: str) -> TextTable | None:
    """Return a table with its header found, or None where it has no rows beneath one."""
    at = hints.header_row - 1 if hints.header_row else find_header(grid[:SEARCHED_ROWS], hints.wanted)
    if at is None or at >= len(grid) - 1 or not any(grid[at]):
        return None
    names = name_columns(grid[at])
    refuse_wide(names, where=f"{where}, {sheet}")
    cells = pl.DataFrame(grid[at + 1 :], schema=dict.fromkeys(names, pl.String), orient="row")
    rows = pl.Series("row_number", range(at + 2, len(grid) + 1), dtype=pl.Int64)
    return text_table(cells, rows, sheet=sheet)
