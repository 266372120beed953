"""The quarantine as a table to fix the exports by, safe to open in a spreadsheet and to print on a terminal."""

import codecs
from contextlib import suppress
from pathlib import Path

from pipeline.csv_guard import guarded_csv
from pipeline.ledger import Ledger

_HEADER = b'"file_name","sheet","row_number","field","value","reason","cells"'
"""The first line of a list that was redirected to a file, by which the file is known again."""


def quarantine_csv(ledger: Ledger) -> str:
    """Return the quarantined rows as CSV: file_name, sheet, row_number, field, value, reason, cells."""
    return guarded_csv(ledger.read("staging/quarantine_list"))


def is_quarantine_list(path: Path) -> bool:
    """Whether a file is a list of rows in quarantine as `quarantine_csv` writes it; what cannot be opened is none."""
    with suppress(OSError):
        if path.is_file():
            with path.open("rb") as file:
                return file.read(len(_HEADER) + 3).removeprefix(codecs.BOM_UTF8).startswith(_HEADER)
    return False
