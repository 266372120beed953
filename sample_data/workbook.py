"""Write the workbook export, the same bytes every time."""

import zipfile
from datetime import datetime
from io import BytesIO

import polars as pl
import xlsxwriter

_WRITTEN = datetime(2026, 10, 1)
_TEXT_ENDING = "_text"


def write_workbook(title: str, sheets: dict[str, pl.DataFrame]) -> bytes:
    """Return an Excel workbook: on each sheet a title in row 1, the header in row 3, then the rows.

    Days become real Excel days, numbers real numbers. Where a column has a companion named with the
    ending _text, that text stands in the cell wherever the companion is not null. The archive is not
    compressed, so that its bytes do not depend on a compressor's version.
    """
    packed = BytesIO()
    with xlsxwriter.Workbook(packed, {"in_memory": True}) as book:
        book.set_properties({"title": title, "created": _WRITTEN})
        day_format = book.add_format({"num_format": "yyyy-mm-dd"})
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            sheet.write_string(0, 0, title)
            headers = [column for column in rows.columns if not column.endswith(_TEXT_ENDING)]
            for at, header in enumerate(headers):
                sheet.write_string(2, at, header)
                sheet.write_column(
                    3, at, _cells(rows, header), day_format if rows.schema[header] == pl.Date else None
                )
    return _stored(packed.getvalue())


def _cells(rows: pl.DataFrame, header: str) -> list[object]:
    """Return the cells of one column: the text where there is one, else the typed value."""
    typed = rows[header].to_list()
    if header + _TEXT_ENDING not in rows.columns:
        return typed
    texts = rows[header + _TEXT_ENDING].to_list()
    return [value if text is None else text for value, text in zip(typed, texts, strict=True)]


def _stored(packed: bytes) -> bytes:
    """Return the same archive without compression and with one fixed time."""
    stored = BytesIO()
    with zipfile.ZipFile(BytesIO(packed)) as source, zipfile.ZipFile(stored, "w") as target:
        for entry in source.infolist():
            plain = zipfile.ZipInfo(entry.filename, _WRITTEN.timetuple()[:6])
            target.writestr(plain, source.read(entry.filename), zipfile.ZIP_STORED)
    return stored.getvalue()
