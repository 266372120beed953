"""CSV with any delimiter: split into records and cells, and keep the rows that do not split."""

import io
import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.errors import ExportError
from pipeline.ingest.headers import SEARCHED_ROWS, find_header, name_columns
from pipeline.ingest.readers.encoding import decode
from pipeline.ingest.readers.limits import LONGEST_ROW, refuse_wide
from pipeline.ingest.readers.table import FAULT_SCHEMA, Hints, TextTable, text_table

_DELIMITERS = (";", ",", "\t", "|", ":")
_SAMPLE_LINES = 200
_LONGEST_RECORD = 500
"""A quoted cell that is still open after so many lines is taken as never closed."""


@dataclass(frozen=True)
class _Shapes:
    """The regular expressions of one delimiter, for polars and for `re` alike.

    `closed` is a well-formed quoted cell; `opened` a quote at the start of a cell that is left open;
    `followed` a closed cell with text after it (where the closed cells have been replaced by MARK);
    `spaced` a quoted cell with a space before or after it;
    `cell` any cell with the delimiter before it; `plain_cell` a well-formed one, without it.
    """

    closed: str
    opened: str
    followed: str
    spaced: str
    cell: str
    plain_cell: str
    mark: str

    @classmethod
    def of(cls, delimiter: str) -> "_Shapes":
        mark = re.escape(delimiter)
        closed = rf'(^|{mark}) *"(?:[^"]|"")*"'
        return cls(
            closed,
            rf'(?:^|{mark}) *"',
            rf"{_MARK} *[^{mark}\s]",
            rf'(?:^|{mark}) +"|" +(?:{mark}|$)',
            rf'{mark}(?: *"(?:[^"]|"")*"|[^{mark}]*)',
            rf'(?:"(?:[^"]|"")*"|[^"{mark}]*)',
            mark,
        )

    def record(self, width: int) -> str:
        """Return the shape of a line that is one well-formed record of so many cells."""
        return rf"^{self.plain_cell}(?:{self.mark}{self.plain_cell}){{{width - 1}}}$"


_MARK = "\x1f"
_TOO_LONG = f"the row has more than {LONGEST_ROW:,} characters; its first thousand are kept"


def read_delimited(content: bytes, hints: Hints, *, where: str) -> TextTable:
    """Return the table that delimited text holds.

    A record with more or fewer cells than the header has is a fault, not padded; further cells that
    are empty are ignored. Raises ExportError where there is no header.
    """
    decoded = decode(content, hints.encoding, where=where)
    lines = _lines(decoded.content)
    is_long = lines.str.len_bytes() > LONGEST_ROW
    top = (
        lines.head(_SAMPLE_LINES)
        .to_frame()
        .select(pl.when(~is_long.head(_SAMPLE_LINES)).then(pl.first()).otherwise(pl.lit("")))
        .to_series()
        .to_list()
    )
    delimiter = hints.delimiter or sniff_delimiter(top)
    if is_long.head(SEARCHED_ROWS).all():
        raise ExportError(
            f"{where}: its first lines have more than {LONGEST_ROW:,} characters each",
            "export it again, one row a line.",
        )
    header_at, names = _header(top, delimiter, hints, where)
    refuse_wide(names, where=where)
    body = pl.DataFrame({"line": lines}).with_row_index("row_number", offset=1)
    long = body.filter(is_long & (body["row_number"] > header_at + 1)).with_columns(
        pl.col("line").str.head(1_000)
    )
    records, faults = _records(
        body.filter(~is_long).filter(pl.col("row_number") > header_at + 1), delimiter, len(names)
    )
    faults = pl.concat([faults, _as_faults(long, pl.lit(_TOO_LONG))]).sort("row_number")
    cells = _cells(records, delimiter, names, where)
    return text_table(
        cells, records["row_number"], faults=faults, notes=decoded.notes, encoding=decoded.encoding
    )


def sniff_delimiter(lines: Sequence[str]) -> str:
    """Return the delimiter that splits the most lines into one and the same number of cells."""

    def steadiness(delimiter: str) -> tuple[float, int]:
        counts = Counter(_split(line, delimiter) for line in lines if line.strip())
        counts.pop(1, None)
        if not counts:
            return (0.0, 0)
        cells, times = max(counts.items(), key=lambda item: (item[1], item[0]))
        return (times / sum(1 for line in lines if line.strip()), cells)

    return max(
        _DELIMITERS, key=lambda delimiter: (round(steadiness(delimiter)[0], 1), steadiness(delimiter)[1])
    )


def _split(line: str, delimiter: str) -> int:
    return re.sub(_Shapes.of(delimiter).closed, r"\1" + _MARK, line).count(delimiter) + 1


def _lines(content: bytes) -> pl.Series:
    if b"\r" in content and b"\n" not in content:
        content = content.replace(b"\r", b"\n")
    return pl.read_lines(io.BytesIO(content)).to_series()


def _header(top: list[str], delimiter: str, hints: Hints, where: str) -> tuple[int, list[str]]:
    """Return the header's position among the lines, and the names of the columns."""
    rows = [_unquoted(line, delimiter) for line in top]
    if hints.header_row is not None:
        at = hints.header_row - 1
        if at >= len(rows) or not any(rows[at]):
            raise ExportError(
                f"{where} has no header in row {hints.header_row}: that row is empty or not there",
                "correct `header_row` in the export map, or leave it out.",
            )
    else:
        found = find_header(rows[:SEARCHED_ROWS], hints.wanted)
        if found is None:
            raise ExportError(f"{where} holds no rows", "export it again.")
        at = found
    names = rows[at]
    while len(names) > 1 and not names[-1]:
        names = names[:-1]
    return at, name_columns(names)


def _unquoted(line: str, delimiter: str) -> list[str]:
    cells = re.findall(_Shapes.of(delimiter).cell, delimiter + line)
    return [_unquote(cell[len(delimiter) :]) for cell in cells]


def _unquote(cell: str) -> str:
    stripped = cell.strip()
    if len(stripped) > 1 and stripped.startswith('"') and stripped.endswith('"'):
        return stripped[1:-1].replace('""', '"')
    return cell


def _records(body: pl.DataFrame, delimiter: str, width: int) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return (row_number, line, loose) of the records that split into `width` cells, and the faults.

    Most lines are one well-formed record each, which one expression recognises; only the others are judged.
    """
    body = body.filter(pl.col("line").str.contains(r"\S"))
    is_regular = body["line"].str.contains(_Shapes.of(delimiter).record(width))
    regular = body.filter(is_regular).with_columns(loose=pl.lit(False))
    if regular.height == body.height:
        return regular, pl.DataFrame(schema=FAULT_SCHEMA)
    judged = _judge(body.filter(~is_regular), delimiter)
    unclosed = judged.clear()
    if judged["opened"].any():
        joined, unclosed = _join_lines(_judge(body, delimiter), delimiter, width)
        regular, judged = regular.clear(), _judge(joined, delimiter)
    fits = (pl.col("cells") == width) & ~pl.col("followed")
    bad = judged.filter(~fits)
    cut = _judge(_without_trailing_cells(bad, delimiter, width), delimiter).filter(fits)
    still_bad = bad.join(cut, on="row_number", how="anti")
    reason = (
        pl.when("followed")
        .then(pl.lit("a quoted cell is followed by more text"))
        .otherwise(pl.format("the row has {} cells and the header has {}", "cells", pl.lit(width)))
    )
    faults = pl.concat(
        [
            _as_faults(still_bad, reason),
            _as_faults(unclosed, pl.lit("a quoted cell is opened and never closed")),
        ]
    )
    good = [frame.select("row_number", "line", "loose") for frame in (regular, judged.filter(fits), cut)]
    return pl.concat(good).sort("row_number"), faults.sort("row_number")


def _judge(body: pl.DataFrame, delimiter: str) -> pl.DataFrame:
    """Return row_number, line, and of each line: cells (count), opened, followed, loose (Boolean).

    `loose` says that a quote stands inside a cell that is not quoted (9" heel), or a space beside one that is.
    """
    shapes = _Shapes.of(delimiter)
    plain = body.select("row_number", "line").with_columns(closed=pl.col("line"))
    if plain["line"].str.contains('"', literal=True).any():
        plain = plain.with_columns(
            pl.col("line").str.replace_all(shapes.closed, "${1}" + _MARK).alias("closed")
        )
        marks = {
            "opened": pl.col("closed").str.contains(shapes.opened),
            "followed": pl.col("closed").str.contains(shapes.followed),
            "loose": pl.col("closed").str.contains('"', literal=True)
            | pl.col("line").str.contains(shapes.spaced),
        }
    else:
        marks = {name: pl.lit(False) for name in ("opened", "followed", "loose")}
    return plain.select(
        "row_number",
        "line",
        (pl.col("closed").str.count_matches(delimiter, literal=True) + 1).alias("cells"),
        *(mark.alias(name) for name, mark in marks.items()),
    )


def _join_lines(judged: pl.DataFrame, delimiter: str, width: int) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Join the lines over which a quoted cell runs; return all records, and the lines never closed.

    The loop runs over the lines that open a cell and do not close it, not over the rows.
    """
    lines = judged["line"]
    opening = judged["opened"].arg_true().to_list()
    closing = (lines.str.count_matches('"', literal=True) % 2 == 1).arg_true().to_list()
    joined: dict[int, str] = {}
    swallowed: list[int] = []
    unclosed: list[int] = []
    reached = -1
    for start in opening:
        if start <= reached:
            continue
        after = bisect_right(closing, start)
        end = closing[after] if after < len(closing) else start
        record = "\n".join(lines[start : end + 1].to_list()) if end - start <= _LONGEST_RECORD else ""
        if end > start and record and _closes(record, delimiter, width):
            joined[start] = record
            swallowed.extend(range(start + 1, end + 1))
            reached = end
        else:
            unclosed.append(start)
    at = pl.Series("at", range(judged.height), dtype=pl.Int64)
    numbered = judged.select("row_number", "line", at)
    records = (
        numbered.filter(~pl.col("at").is_in(swallowed) & ~pl.col("at").is_in(unclosed))
        .join(
            pl.DataFrame(
                {"at": list(joined), "record": list(joined.values())},
                schema={"at": pl.Int64, "record": pl.String},
            ),
            on="at",
            how="left",
            maintain_order="left",
        )
        .select("row_number", pl.coalesce("record", "line").alias("line"))
    )
    return records, judged.filter(at.is_in(unclosed))


def _closes(record: str, delimiter: str, width: int) -> bool:
    shapes = _Shapes.of(delimiter)
    closed = re.sub(shapes.closed, r"\1" + _MARK, record)
    return (
        closed.count(delimiter) + 1 >= width
        and re.search(shapes.opened, closed) is None
        and "\n" not in closed
    )


def _without_trailing_cells(bad: pl.DataFrame, delimiter: str, width: int) -> pl.DataFrame:
    """Return row_number and line of the rows whose cells too many are all empty, without these cells."""
    mark = re.escape(delimiter)
    tail = pl.col("line").str.extract(rf"((?:{mark} *)+)$").fill_null("")
    return (
        bad.with_columns(
            (pl.col("cells") - width).cast(pl.Int64).alias("extra"),
            tail.str.count_matches(delimiter, literal=True).cast(pl.Int64).alias("empty"),
            pl.col("line").str.replace(rf"(?:{mark} *)+$", "").alias("kept"),
        )
        .filter((pl.col("extra") > 0) & (pl.col("empty") >= pl.col("extra")))
        .with_columns(
            pl.lit(delimiter).repeat_by(pl.col("empty") - pl.col("extra")).list.join("").alias("put_back")
        )
        .select("row_number", (pl.col("kept") + pl.col("put_back")).alias("line"))
    )


def _as_faults(records: pl.DataFrame, reason: pl.Expr) -> pl.DataFrame:
    return records.select(
        pl.col("row_number").cast(pl.Int64),
        reason.cast(pl.String).alias("reason"),
        pl.struct(line="line").struct.json_encode().alias("cells"),
    )


def _cells(records: pl.DataFrame, delimiter: str, names: list[str], where: str) -> pl.DataFrame:
    """Return the cells of records that are known to split, in their order, quotes taken off."""
    if records.height == 0:
        return pl.DataFrame(schema=dict.fromkeys(names, pl.String))
    strict = records.filter(~pl.col("loose"))
    loose = records.filter("loose")
    parts = [_split_strict(part, delimiter, names, where) for part in strict.iter_slices(_SPLIT_AT_ONCE)]
    if loose.height == 0:
        return pl.concat(parts)
    parts = [pl.concat(parts).with_columns(strict["row_number"].alias(_AT))] if parts else []
    parts.append(_loose_cells(loose, delimiter, names).with_columns(loose["row_number"].alias(_AT)))
    return pl.concat(parts).sort(_AT).drop(_AT)


_SPLIT_AT_ONCE = 200_000


def _split_strict(strict: pl.DataFrame, delimiter: str, names: list[str], where: str) -> pl.DataFrame:
    """Return the cells of well-formed records."""
    content = strict.select(pl.col("line").str.join("\n")).item().encode("utf-8")
    cells = pl.read_csv(
        io.BytesIO(content),
        has_header=False,
        separator=delimiter,
        infer_schema=False,
        new_columns=names,
        empty_string_is_null=True,
    )
    if cells.height != strict.height or cells.width != len(names):
        raise ExportError(
            f"{where} cannot be split by {delimiter!r}: {strict.height} records gave {cells.height}",
            "state `delimiter` in the export map, or export it again.",
        )
    return cells


_AT = "\0 row number"


def _loose_cells(loose: pl.DataFrame, delimiter: str, names: list[str]) -> pl.DataFrame:
    """Return the cells of records in which a quote is just a sign inside a cell."""
    shapes = _Shapes.of(delimiter)
    cells = pl.element().str.strip_prefix(delimiter)
    quoted = cells.str.strip_chars().str.starts_with('"') & cells.str.strip_chars().str.ends_with('"')
    unquoted = cells.str.strip_chars().str.strip_prefix('"').str.strip_suffix('"').str.replace_all('""', '"')
    return (
        loose.select((pl.lit(delimiter) + pl.col("line")).str.extract_all(shapes.cell).alias("parts"))
        .select(pl.col("parts").list.eval(pl.when(quoted).then(unquoted).otherwise(cells)))
        .select(pl.col("parts").list.get(position).alias(name) for position, name in enumerate(names))
    )
