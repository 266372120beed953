"""How much an export may hold: far above what a house exports, far below what a machine cannot bear."""

import io
import lzma
import re
import zipfile
import zlib

from pipeline.errors import ExportError

LARGEST_FILE = 1_000_000_000
"""Bytes of a file; reading takes several times as much memory."""

LARGEST_UNPACKED = 1_000_000_000
"""Bytes of a workbook or Parquet file once it is unpacked."""

MOST_COLUMNS = 1_000
MOST_CELLS = 20_000_000
"""Cells of a sheet, filled or not, from its first to its last."""

MOST_VALUES = 200_000_000
"""Values of a Parquet file."""

LONGEST_ROW = 1_000_000
"""Characters of a line of text; a longer one is a row that cannot be read."""

LONGEST_CELL = 32_767
"""Characters of a cell that a field is read from: as many as a spreadsheet's cell holds."""

IN_PARTS = "export it in parts, such as a year each."
"""What to do with an export that is too large."""

_AT_ONCE = 1 << 20


def refuse_wide(names: list[str], *, where: str) -> None:
    """Raise ExportError where a header has more columns than any export of sales."""
    if len(names) > MOST_COLUMNS:
        raise ExportError(
            f"{where} has {len(names):,} columns, and {MOST_COLUMNS:,} are the most that are read",
            "export fewer columns, or state `delimiter` or `header_row` in the export map.",
        )


def refuse_cells(cells: int, *, where: str) -> None:
    """Raise ExportError where a table spans more cells than is read."""
    if cells > MOST_CELLS:
        raise ExportError(
            f"{where}: a table spans {cells:,} cells or more, and {MOST_CELLS:,} are the most that are read",
            IN_PARTS,
        )


_DAMAGES = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    lzma.LZMAError,
    EOFError,
    OSError,
    RuntimeError,
    ValueError,
)
"""What unpacking a damaged archive raises."""


def refuse_bomb(content: bytes, *, where: str) -> None:
    """Raise ExportError where a workbook's archive is damaged or unpacks to more than is read.

    Every part is unpacked, a piece at a time: the sizes that an archive states of itself may be false.
    """
    unpacked = 0
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for part in archive.infolist():
                with archive.open(part) as pieces:
                    while piece := pieces.read(_AT_ONCE):
                        unpacked += len(piece)
                        if unpacked > LARGEST_UNPACKED:
                            raise ExportError(
                                f"{where} unpacks to more than {LARGEST_UNPACKED:,} bytes from {len(content):,}",
                                IN_PARTS,
                            )
            for part in archive.infolist():
                if _SHEET_PART.search(part.filename):
                    _refuse_large_sheet(_cells_of(archive.read(part)), part.filename, where)
    except _DAMAGES as exc:
        raise ExportError(
            f"{where} cannot be read as Excel: {exc}",
            "open it in a spreadsheet and save it again (without a password).",
        ) from exc


_SHEET_PART = re.compile(r"xl/worksheets/[^/]+\.xml$|^content\.xml$", re.IGNORECASE)
_REFERENCE = re.compile(rb"""["']([A-Za-z]{1,3})([0-9]{1,10})["']""")
_REPEATED = re.compile(rb"<table:(table-row|table-cell|covered-table-cell)(?=[\s/>])([^>]*)>")
_TIMES = re.compile(rb"""table:number-(?:rows|columns)-repeated\s*=\s*["']([0-9]{1,10})["']""")
_WIDTHS = {3: 18_278, 2: 702, 1: 26}
"""Letters of a column's name → how many columns have names of so many letters or fewer."""


def _refuse_large_sheet(cells: int, part: str, where: str) -> None:
    if cells > MOST_CELLS:
        raise ExportError(
            f"{where}: the sheet in {part} spans {cells:,} cells, and {MOST_CELLS:,} are the most that are read",
            "delete what stands far below or beside the rows, or export it in parts.",
        )


def _cells_of(sheet: bytes) -> int:
    """Return how many cells a sheet spans from its first to its last, or more, from its XML (.xlsx or .ods)."""
    if b"<table:table-row" in sheet:
        return _repeated_cells(sheet)
    letters = next((n for n in _WIDTHS if re.search(rb"""["'][A-Za-z]{%d}[0-9]{1,10}["']""" % n, sheet)), 1)
    digits = next((n for n in range(10, 1, -1) if re.search(rb"""[A-Za-z][0-9]{%d}["']""" % n, sheet)), 1)
    bound: int = 10**digits * _WIDTHS[letters]
    if bound <= MOST_CELLS:
        return bound
    rows = widest = 1
    for found in _REFERENCE.finditer(sheet):
        widest, rows = max(widest, _column_number(found[1])), max(rows, int(found[2]))
    return rows * widest


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = 26 * number + letter - ord("A") + 1
    return number


def _repeated_cells(sheet: bytes) -> int:
    """Return how many cells the rows span up to the last that holds something, repeated ones counted."""
    total = rows = width = filled = 0
    for found in _REPEATED.finditer(sheet):
        times = int(repeated[1]) if (repeated := _TIMES.search(found[2])) else 1
        if found[1] == b"table-row":
            total, rows, width, filled = total + rows * filled, times, 0, 0
        else:
            width += times
            filled = width if b"value" in found[2] else filled
    return total + rows * filled
