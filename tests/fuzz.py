"""Texts and files that mean harm, and what every reader and parser owes whatever it is given.

A case is a string given to a parser, or a file given to the readers. A parser owes one row a distinct string;
a reader owes tables, or an error that is told; of the tables' rows each is staged or in quarantine.
"""

import io
import random
import re
import tomllib
import zipfile
from collections.abc import Callable
from contextlib import suppress
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.config import Market, load_market
from pipeline.errors import PairbandError
from pipeline.ingest.dates import read_dates
from pipeline.ingest.fields import map_hints, mapped_columns
from pipeline.ingest.grades import read_grades
from pipeline.ingest.headers import missing_columns, name_columns
from pipeline.ingest.money import market_rates
from pipeline.ingest.names import read_name_lists
from pipeline.ingest.normalise import normalise
from pipeline.ingest.numbers import read_amounts
from pipeline.ingest.personal import looks_personal
from pipeline.ingest.proposal import propose_map
from pipeline.ingest.readers import read_tables
from pipeline.ingest.readers.export import open_export
from pipeline.ingest.sizes import read_sizes
from pipeline.ingest.stamps import read_stamps
from pipeline.ingest.titles import read_titles
from pipeline.schema import SOURCE_FIELDS
from tests.corpus.case import Case

AS_OF = date(2026, 6, 30)
HERE = Path(__file__).parent
MARKET: Market = load_market(HERE / "market.toml")
RATES = market_rates(MARKET)
Parser = Callable[[pl.Series], pl.DataFrame]


def _read_headers(texts: pl.Series) -> pl.DataFrame:
    """Read texts as the names of columns: single names, and whether each is of a person."""
    names = name_columns(texts.to_list())
    if len(set(names)) != len(names):
        raise AssertionError("two columns of one name")
    return texts.to_frame().with_columns(
        personal=pl.Series([looks_personal(name) for name in names], dtype=pl.Boolean)
    )


PARSERS: dict[str, Parser] = {
    "amounts with points": lambda texts: read_amounts(texts, decimal_mark="."),
    "amounts with commas": lambda texts: read_amounts(texts, decimal_mark=","),
    "days": lambda texts: read_dates(texts, order="dmy"),
    "sizes": lambda texts: read_sizes(texts, system="UK"),
    "lists": lambda texts: read_name_lists(texts, {"booklet": "booklet"}, ["no"], ","),
    "grades": lambda texts: read_grades(texts, {"good": 7.0}),
    "stamps": lambda texts: read_stamps(texts, as_of=AS_OF),
    "titles": lambda texts: read_titles(texts, MARKET),
    "headers": _read_headers,
}

PIECES = (
    *("0", "1", "9", "12", "1985", "2021", "31", "000", "1e9", "-1", "1.234,56", "1'234.50", "½", "⅓", "１２", "٣"),
    *(".", ",", "/", "-", ":", " ", "  ", "'", '"', "(", ")", "€", "£", "¥", "$", "%", "+", "=", "@", "#", "&"),
    *("\t", "\n", "\r", "\x00", "\x1f", "\u200b", "\u202e", "\ufeff", "\u0301", "\ud7ff", "\U0001f45f", "ß", "İ", "ﬁ"),
    *("EUR", "GBP", "UK", "EU", "US", "cm", "mm", "Mar", "März", "août", "年", "月", "日", "円", "Gannet", "Hi"),
    *("box", "no", "not", "never", "tags", "original", "reglued", "yellowing", "sole", "swap", "first", "run", "8/10"),
    *("03/85-06/85", "KX2", "worn", "twice", "deadstock", "size", "Größe", "サイズ", "buyer", "e-mail", "name", "of"),
    *("[", "]", "{", "}", '["', '"]', '{"name":"', "[see photo]", "[null]", "[[", "99999999999999", "1e-12", "9" * 30),
    *("call", "tel.", "+44 20 7946 0000", "q.nobody@example.org", "a;=1+1", "\x1b[31m", "\x9b", "\x07"),
    *("<script>", "&lt;", "'); DROP TABLE sales; --", "../../etc/passwd", "=1+1", "{{7*7}}", "%s", "\\", "NaN"),
)  # fmt: skip

LIST_CELLS = (
    *("[see photo]", '[{"name":"booklet"}]', '[["booklet"]]', '["booklet", ["x"]]', "[1, 2]", "[1e999]", "[null]"),
    "[NaN]",
    *("[", "]", "[[", '["booklet"', '"booklet"]', "[,]", "[}", "{}", '{"parts":["booklet"]}', "[true]", "null", "0"),
    *('["\\ud800"]', '["\\u0000"]', '["booklet"] and ["laces"]', "['booklet', 'laces']", "[booklet; laces]", "[]", "-"),
    *("[" * 2000 + "]" * 2000, '{"a":' * 2000 + "1" + "}" * 2000, "[" + "9" * 5000 + "]", "[-1e-400]", "\x1b[31m[x]"),
)  # fmt: skip
"""Cells where a list of names is wanted, as exports, scripts and people spoil them."""

ODD_CELLS = (
    *LIST_CELLS,
    *("99999999999999", "99999999999999.99", "9" * 25, "9" * 400, "1e-12", "1e308", "-1e308", "1e999", "NaN", "inf"),
    *("0.00000000001", "12.3456789", "0" * 30 + "1", "1" + "0" * 14, "(99999999999999)", "99.999.999.999.999", "9½"),
    *("9999-12-31", "0000-00-00", "10000-01-01", "99999", "2021-13-45", "29.02.2021", "31/12/9999", "-2021-03-04"),
    *("99/99-99/99", "0385 0685", "UK 999999999", "US w 9 / EU 43 / JP 28", "1/0", "10/10/10", "11", "-8", "8.25"),
    *("=1+1", "a;=1+1", "\x1b]0;x\x07", "\x9b2J", "\x07", "\u202e", "\ufeff", "\u0301" * 50, "\U0001f45f", "ﬁ", "İ"),
    *("call +44 20 7946 0000", "q.nobody@example.org", "[e-mail]", "€", "$", "kr", "EUR USD", "XXX", "sold", "unknown"),
)  # fmt: skip
"""Cells that are odd in one field or another."""


def hostile_text(rng: random.Random) -> str:
    """Return a text: pieces of the trade and of mischief, any characters, or one piece over and over."""
    kind = rng.random()
    if kind < 0.7:
        return rng.choice(["", " "]).join(rng.choices(PIECES, k=rng.randrange(9)))
    if kind < 0.96:
        return "".join(map(_character, range(rng.randrange(24)), [rng] * 24))
    return rng.choice(PIECES) * rng.randrange(400)


def _character(_: int, rng: random.Random) -> str:
    point = rng.randrange(rng.choice([0x80, 0x250, 0x3100, 0xD800]))
    return chr(point) if rng.random() < 0.98 else chr(rng.randrange(0xE000, 0x110000))


def parse(parser: str, texts: list[str]) -> None:
    """Give a parser a column of texts; raises AssertionError where it does not return a row for each."""
    read = PARSERS[parser](pl.Series("text", texts, dtype=pl.String))
    wanted = texts if parser == "headers" else list(dict.fromkeys(texts))
    if read.to_series(0).to_list() != wanted:
        raise AssertionError(f"{parser}: {read.height} rows for {len(wanted)} texts")


def hostile_content(rng: random.Random, content: bytes) -> bytes:
    """Return a file's bytes with some of them changed; half of the workbooks inside their archive."""
    if content.startswith(b"PK") and rng.random() < 0.6:
        return _in_archive(rng, content)
    return _changed(rng, content)


_INSERTED = (
    *(b"\x00", b'"', b'""', b"\n", b"\r", b";", b",", b"\t", b"\xff\xfe", b"\xef\xbb\xbf", b"\xc3", b"{", b"[", b"}"),
    *(b"null", b"1e999", b"9" * 400, b"<!ENTITY a 'b'>", b"&a;", b"</c>", b"ZZZ99999", b"=1+1", b"'; DROP", b"\\u0000"),
)  # fmt: skip


def _changed(rng: random.Random, content: bytes) -> bytes:
    changed = bytearray(content)
    for _ in range(rng.choice([1, 1, 2, 4, 12])):
        at = rng.randrange(len(changed) + 1)
        kind = rng.randrange(5)
        if kind == 0 and at < len(changed):
            changed[at] = rng.randrange(256)
        elif kind == 1:
            del changed[at : at + rng.randrange(1, 40)]
        elif kind == 2:
            changed[at:at] = changed[at : at + rng.randrange(1, 200)] * rng.choice([1, 1, 3])
        elif kind == 3:
            changed[at:at] = rng.choice(_INSERTED)
        elif rng.random() < 0.2:
            del changed[at:]
    return bytes(changed)


def _in_archive(rng: random.Random, content: bytes) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return _changed(rng, content)
    chosen = rng.choice(
        [name for name in parts if re.search(r"sheet|shared|workbook|styles", name)] or list(parts)
    )
    parts[chosen] = _changed(rng, parts[chosen])
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return buffer.getvalue()


def odd_rows() -> dict[str, list[str | None]]:
    """Return, column by column, a row for each odd cell in each field; every other cell of the row is good."""
    good = {
        "venue": "Lantern Dock", "status": "sold", "title": "Gannet Hi UK 9", "closed_on": "2021-03-04",
        "price_native": "80", "currency": "GBP",
    }  # fmt: skip
    rows: list[dict[str, str | None]] = [
        {name: good.get(name) for name in SOURCE_FIELDS} | {"lot_ref": f"{field} {at}", field: cell}
        for field in SOURCE_FIELDS
        for at, cell in enumerate(ODD_CELLS)
    ]
    return {name: [row[name] for row in rows] for name in SOURCE_FIELDS}


def read(path: Path, case: Case, *, whole: bool) -> str:
    """Read a file, and `whole` also map and normalise it as ingest does; return what came of it.

    Raises AssertionError where a row is lost, and whatever the readers raise beside errors that are told.
    """
    export_map = case.export_map()
    if whole:
        with suppress(PairbandError):
            tomllib.loads(propose_map(path, MARKET).to_toml())
    try:
        for table in read_tables(open_export(path), map_hints(export_map)):
            if missing_columns(table.cells.columns, mapped_columns(export_map)):
                return "a column is missing"
            if not whole:
                continue
            told = normalise(table, export_map, MARKET, RATES, as_of=AS_OF, where=path.name)
            if told.staged.height + told.quarantine.height != table.rows_read:
                raise AssertionError(f"{path}: of {table.rows_read} rows some are lost")
    except PairbandError as exc:
        return type(exc).__name__
    return "rows"
