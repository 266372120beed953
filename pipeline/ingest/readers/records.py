"""JSON lines, and JSON arrays of objects: each object a row, each key a column."""

import io
import re

import duckdb
import polars as pl

from pipeline.errors import ExportError
from pipeline.ingest.headers import name_columns
from pipeline.ingest.readers.encoding import decode
from pipeline.ingest.readers.limits import LONGEST_ROW, refuse_wide
from pipeline.ingest.readers.table import Hints, TextTable, text_table
from pipeline.shipped import statement


def read_records(content: bytes, hints: Hints, *, where: str) -> TextTable:
    """Return the table of JSON objects; values as text, lists as JSON arrays.

    A line (or a member of the array) that is no object is a fault. Raises ExportError where the file
    holds no object at all.
    """
    decoded = decode(content, hints.encoding, where=where)
    whole, cut = _with_whole_characters(decoded.content)
    is_array = whole.lstrip().startswith(b"[")
    lines = (
        pl.Series("line", [whole.decode("utf-8")])
        if is_array
        else pl.read_lines(io.BytesIO(whole)).to_series().alias("line")
    )
    incoming = pl.DataFrame({"line": lines}).with_row_index("row_number", offset=1)
    if not is_array:  # a line that is too long to be an object is none
        short = pl.col("line").str.len_bytes() <= LONGEST_ROW
        incoming = incoming.with_columns(
            pl.when(short).then("line").otherwise(pl.col("line").str.head(1_000))
        )
    try:
        objects, keys, parts = _split(
            incoming, "staging/json_array" if is_array else "staging/json_lines", where
        )
    except duckdb.Error as exc:
        raise ExportError(f"{where} cannot be read as JSON: {str(exc).splitlines()[0]}", _AGAIN) from exc
    faults = objects.filter(pl.col("object").is_null()).select(
        "row_number",
        pl.lit("the line is no JSON object").alias("reason"),
        pl.struct(line=pl.col("line").str.slice(0, LONGEST_ROW)).struct.json_encode().alias("cells"),
    )
    if not keys:
        raise ExportError(f"{where} holds no JSON object", _AGAIN)
    cells = parts.select(
        pl.col("parts").list.get(position).alias(name) for position, name in enumerate(name_columns(keys))
    )
    return text_table(
        cells,
        parts["row_number"],
        faults=faults,
        notes=(
            *decoded.notes,
            *((f"characters that are cut in half and read as \ufffd: {cut:,}",) if cut else ()),
        ),
        numbers_are_plain=True,
        encoding=decoded.encoding,
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


def _split(incoming: pl.DataFrame, name: str, where: str) -> tuple[pl.DataFrame, list[str], pl.DataFrame]:
    """Return (row_number, line, object), the keys in their order, and (row_number, parts)."""
    with duckdb.connect(
        ":memory:", config={"enable_external_access": "false", "lock_configuration": "true"}
    ) as engine:
        engine.register("incoming", incoming)
        objects = pl.DataFrame(engine.sql(statement(name)))
        engine.register("objects", objects)
        keys = [key for (key,) in engine.sql(statement("staging/json_keys")).fetchall()]
        refuse_wide(keys, where=where)
        pointers = ["/" + key.replace("~", "~0").replace("/", "~1") for key in keys]
        relation = engine.sql(statement("staging/json_cells"), params={"pointers": pointers})
        return objects, keys, pl.DataFrame(relation)
