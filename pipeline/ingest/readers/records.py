"""JSON: lines, arrays and documents of objects; each record a row, each key a column."""

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

import duckdb
import polars as pl

from pipeline.errors import ExportError
from pipeline.ingest.headers import name_columns
from pipeline.ingest.readers.encoding import decode
from pipeline.ingest.readers.limits import LONGEST_ROW, refuse_wide
from pipeline.ingest.readers.nesting import (
    Leaf,
    RecordList,
    choose,
    keyed_records,
    leaves,
    merged,
    record_lists,
)
from pipeline.ingest.readers.table import Hints, TextTable, text_table
from pipeline.shipped import statement

_KEY = "key"
"""The heading of the keys of records that stand in an object, such as lot numbers."""


def read_records(content: bytes, hints: Hints, *, where: str) -> TextTable:
    """Return the table of the records; values as text, lists that are none of records as JSON arrays.

    Records may be lines, members of an array, members of a list in a document or in other records (the lines of
    orders), or the values of an object (by lot). Fields of what stands around a record are repeated on it. A line
    or member that is no object is a fault. Raises ExportError where the file holds no object at all, or where two
    lists may be the records.
    """
    decoded = decode(content, hints.encoding, where=where)
    whole, cut = _with_whole_characters(decoded.content)
    try:
        with duckdb.connect(
            ":memory:", config={"enable_external_access": "false", "lock_configuration": "true"}
        ) as opened:
            found = _Engine(opened, where).read(whole, hints)
    except duckdb.Error as exc:
        raise ExportError(f"{where} cannot be read as JSON: {str(exc).splitlines()[0]}", _AGAIN) from exc
    if not found.cells.width:
        raise ExportError(f"{where} holds no JSON object", _AGAIN)
    halves = (f"characters that are cut in half and read as \ufffd: {cut:,}",) if cut else ()
    return text_table(
        found.cells,
        found.row_numbers,
        faults=found.faults,
        notes=(*decoded.notes, *halves, *found.notes),
        numbers_are_plain=True,
        encoding=decoded.encoding,
        records=found.records,
    )


_AGAIN = "export it again: one JSON object a line, or an array of objects."


_ESCAPE = re.compile(
    rb"\\(?:u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}|(u[dD][89a-fA-F][0-9a-fA-F]{2})|.)",
    re.DOTALL,
)
"""An escape of JSON: both halves of a character beyond the first 65,536, one half alone (the group), or another."""


def _with_whole_characters(content: bytes) -> tuple[bytes, int]:
    """Return JSON with the replacement character for each half of one, and how many there were.

    A program that cuts a text at so many signs leaves such a half, with which no reader takes the object.
    """
    if b"\\ud" not in content and b"\\uD" not in content:
        return content, 0
    cut = sum(found[1] is not None for found in _ESCAPE.finditer(content))
    whole = (
        _ESCAPE.sub(lambda found: found[0] if found[1] is None else b"\\ufffd", content) if cut else content
    )
    return whole, cut


@dataclass(frozen=True)
class _Records:
    """The records of a file as text cells, their row numbers, what is no record, and what to say of them.

    `records` is the list in the file that they are the members of, None where they are the file's own objects.
    """

    cells: pl.DataFrame
    row_numbers: pl.Series
    faults: pl.DataFrame
    notes: tuple[str, ...] = ()
    records: str | None = None


@dataclass(frozen=True)
class _Engine:
    """The engine that takes JSON apart; `where` is the file."""

    opened: duckdb.DuckDBPyConnection
    where: str

    def read(self, whole: bytes, hints: Hints) -> _Records:
        """Return the records of a file, which of its lists they are being stated, or plain to see."""
        document = self._document(whole)
        objects = self._objects(whole) if document is None else document
        shape = self._shape(objects)
        lists = record_lists(shape, document=document is not None)
        chosen = choose(lists, hints.records, hints.wanted, document=document is not None, where=self.where)
        if chosen is None and (keys := keyed_records(shape)) is not None:
            entries = self._run("staging/json_entries", objects=objects, pointer=_pointer(keys) or "$")
            headings = [(".".join(leaf.keys), leaf) for leaf in leaves(self._shape(entries))]
            known = [(_KEY, entries["key"])]
            return self._table([headings], [entries], known)
        if chosen is None or not chosen.steps:
            headings = [(".".join(leaf.keys), leaf) for leaf in leaves(shape)]
            return self._table([headings], [objects], [])
        return self._nested(chosen, objects, document=document is not None)

    def _nested(self, chosen: RecordList, objects: pl.DataFrame, *, document: bool) -> _Records:
        """Return the records of a list in a document or in other records."""
        levels = [objects]
        for step in chosen.steps:
            levels.append(self._run("staging/json_members", objects=levels[-1], pointer=_pointer(step)))
        read = self._table(chosen.headings(document=document), levels, [])
        note = (
            f"its rows are the members of the list {chosen.name!r}; what stands around it is on each of them"
        )
        return _Records(read.cells, read.row_numbers, read.faults, (note,), chosen.name)

    def _table(
        self,
        headings: Sequence[Sequence[tuple[str, Leaf]]],
        levels: Sequence[pl.DataFrame],
        known: Sequence[tuple[str, pl.Series]],
    ) -> _Records:
        """Return the cells of the last level's objects, with those of the levels around them before their own."""
        last = levels[-1]
        is_record = last["object"].is_not_null()
        at = pl.Series("at", range(last.height), dtype=pl.UInt32).filter(is_record)
        positions = [at]
        for outer, inner in zip(levels[-2::-1], levels[:0:-1], strict=True):
            positions.append(outer["row_number"].search_sorted(inner["parent"].gather(positions[-1])))
        names = [name for name, _ in known]
        columns = [values for _, values in known]
        refuse_wide([heading for level in headings for heading, _ in level], where=self.where)
        for wanted, objects, place in zip(headings, levels, positions[::-1], strict=True):
            parts = self._parts(objects, [leaf for _, leaf in wanted])
            names += [heading for heading, _ in wanted]
            of_record = parts if len(levels) == 1 and is_record.all() else parts.gather(place)
            columns += [of_record.list.get(nth) for nth in range(len(wanted))]
        single = name_columns(names)
        cells = pl.DataFrame(dict(zip(single, columns, strict=True)))
        empty = pl.col("is_empty") if "is_empty" in last.columns else pl.lit(value=False)
        faults = last.filter(~is_record).select(
            "row_number",
            pl.when(empty)
            .then(pl.lit("its list of records is empty"))
            .otherwise(pl.lit("the line is no JSON object"))
            .alias("reason"),
            pl.struct(line=pl.col("line").str.slice(0, LONGEST_ROW)).struct.json_encode().alias("cells"),
        )
        return _Records(cells, last["row_number"].filter(is_record), faults)

    def _parts(self, objects: pl.DataFrame, wanted: Sequence[Leaf]) -> pl.Series:
        """Return, one for each object, its values at the wanted places as text; a line that is none has no value."""
        pointers = [_pointer(leaf.keys) for leaf in wanted]
        return self._run("staging/json_cells", objects=objects, pointers=pointers)["parts"]

    def _document(self, whole: bytes) -> pl.DataFrame | None:
        """Return the one object that a file is, or None where it is an array or lines."""
        if not whole.lstrip().startswith(b"{"):
            return None
        first, _, rest = whole.lstrip().partition(b"\n")
        if rest.strip() and first.rstrip().endswith(b"}"):
            return None
        one = pl.DataFrame({"row_number": [1], "line": [whole.decode("utf-8")]})
        document = self._run("staging/json_document", incoming=one)
        return document if document.height else None

    def _objects(self, whole: bytes) -> pl.DataFrame:
        """Return (row_number, line, object) of an array or of lines; a line that is too long is no object."""
        if whole.lstrip().startswith(b"["):
            text = pl.DataFrame({"row_number": [1], "line": [whole.decode("utf-8")]})
            return self._run("staging/json_array", incoming=text)
        lines = pl.read_lines(io.BytesIO(whole)).to_series().alias("line")
        short = pl.col("line").str.len_bytes() <= LONGEST_ROW
        incoming = (
            pl.DataFrame({"line": lines})
            .with_row_index("row_number", offset=1)
            .with_columns(pl.when(short).then("line").otherwise(pl.col("line").str.head(1_000)))
        )
        return self._run("staging/json_lines", incoming=incoming)

    def _shape(self, objects: pl.DataFrame) -> dict[str, object]:
        shapes = self._run("staging/json_shapes", objects=objects)["shape"].to_list()
        return dict(merged(shapes, where=self.where))

    def _run(
        self,
        name: str,
        *,
        pointer: str | None = None,
        pointers: Sequence[str] | None = None,
        **tables: pl.DataFrame,
    ) -> pl.DataFrame:
        for table, rows in tables.items():
            self.opened.register(table, rows)
        bound = {"pointer": pointer, "pointers": pointers}
        given = {key: value for key, value in bound.items() if value is not None}
        return pl.DataFrame(self.opened.sql(statement(name), params=given))


def _pointer(keys: Sequence[str]) -> str:
    """Return the JSON pointer (RFC 6901) that the keys make."""
    return "".join("/" + key.replace("~", "~0").replace("/", "~1") for key in keys)
