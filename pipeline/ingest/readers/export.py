"""Open an exported file and hand it to the reader of its format."""

import codecs
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import ExportError
from pipeline.ingest.readers.delimited import read_delimited
from pipeline.ingest.readers.limits import LARGEST_FILE
from pipeline.ingest.readers.records import read_records
from pipeline.ingest.readers.table import Hints, TextTable
from pipeline.ingest.readers.web_page import read_web_page
from pipeline.ingest.readers.workbook import read_workbook
from pipeline.plain_file import refuse_special

_KINDS: dict[str, str] = {
    ".csv": "delimited text",
    ".tsv": "delimited text",
    ".txt": "delimited text",
    ".xlsx": "an Excel workbook",
    ".xlsm": "an Excel workbook",
    ".ods": "an Excel workbook",
    ".xls": "an old Excel workbook",
    ".json": "JSON",
    ".jsonl": "JSON",
    ".ndjson": "JSON",
    ".parquet": "Parquet",
    ".html": "a web page",
    ".htm": "a web page",
}
_SIGNS: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "an Excel workbook"),
    (b"\xd0\xcf\x11\xe0", "an old Excel workbook"),
    (b"PAR1", "Parquet"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)


_TAKEN_FOR = (
    ("JSON", "delimited text"),
    ("a web page", "an old Excel workbook"),
    ("delimited text", "a web page"),
)
"""What a file may hold beside what its ending says: a line of text may begin as JSON, a page be saved as Excel's."""


@dataclass(frozen=True)
class ExportFile:
    """An export as it lies on disk: its name, its bytes (let go of once read), their digest and number."""

    path: Path
    content: bytes
    sha256: str
    size_bytes: int


def is_lock_file(path: Path) -> bool:
    """Whether a file is the one that a spreadsheet program leaves beside a file that it has open."""
    return path.name.startswith(("~$", ".~lock."))


def open_export(path: Path) -> ExportFile:
    """Return the file; a link is followed to what it names.

    Raises ExportError where it is missing, not a plain file, too large, empty, or not what its ending says.
    """
    refuse_special(path, "export", fault=ExportError)
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise ExportError(
                f"{path} has {size:,} bytes, and {LARGEST_FILE:,} are the most that are read",
                "export it in parts, such as a year each.",
            )
        content = path.read_bytes()
    except FileNotFoundError as exc:
        raise ExportError(f"there is no file {path}", "look at the name, and run again.") from exc
    except OSError as exc:
        raise ExportError(
            f"{path} cannot be read: {exc.strerror or exc}", "name a file that can be."
        ) from exc
    if not content or content.isspace():
        raise ExportError(f"{path} is empty", "export it again.")
    kind = _KINDS.get(path.suffix.lower())
    if kind is None:
        raise ExportError(
            f"{path}: nothing is known of files that end in {path.suffix or '(nothing)'!r}",
            f"known endings: {', '.join(_KINDS)}.",
        )
    seen = _seen_kind(content)
    if seen != kind and (seen, kind) not in _TAKEN_FOR:
        raise ExportError(
            f"{path} is not what its ending says: it ends in {path.suffix} and holds {seen}",
            "give it the ending of what it is, or export it again.",
        )
    return ExportFile(path, content, hashlib.sha256(content).hexdigest(), len(content))


def read_tables(file: ExportFile, hints: Hints) -> tuple[TextTable, ...]:
    """Return the tables of an export, one a sheet, all cells as text.

    Raises ExportError where the file cannot be read at all, MapError where a sheet is not there.
    """
    where = str(file.path)
    kind = _KINDS[file.path.suffix.lower()]
    if kind == "delimited text":
        return (read_delimited(file.content, hints, where=where),)
    if kind == "JSON":
        return (read_records(file.content, hints, where=where),)
    if kind == "a web page" or _seen_kind(file.content) == "a web page":
        return read_web_page(file.content, hints, where=where)
    if kind == "Parquet":
        from pipeline.ingest.readers.parquet import read_parquet  # pyarrow takes 0.09 s to load

        return (read_parquet(file.content, where=where),)
    return read_workbook(file.content, hints, where=where)


def _seen_kind(content: bytes) -> str:
    for sign, kind in _SIGNS:
        if content.startswith(sign):
            return kind
    head = _beginning(content)
    if re.match(
        r"(?s)\s*(?:(?:<!--.*?-->|<\?xml[^>]*>)\s*)*<(?:!doctype html|html|head|body|meta|table|div)\b", head
    ):
        return "a web page"
    if head.startswith(("<?xml", "<!doctype")):
        return "XML"
    if head.startswith(("{", "[{", "[ ", "[\n", "[\r", "[]")):
        return "JSON"
    return "delimited text"


def _beginning(content: bytes) -> str:
    """Return the first signs of a file in lower case, zero bytes of UTF-16 and marks left out."""
    start = content[:4096]
    for mark in (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        start = start.removeprefix(mark)
    return start.replace(b"\0", b"").decode("latin-1").lstrip().lower()
