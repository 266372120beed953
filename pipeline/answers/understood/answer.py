"""What was understood of exports: every field, the money, odd values, a sample of rows, and what the fit leaves out."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import polars as pl

from pipeline.ingest.put_right import shown
from pipeline.ingest.taken import Offered
from pipeline.schema import COLUMN, ORIGINS, SALE_RECORD, UNKNOWN

WORDS: tuple[str, ...] = (
    *("venue", "status", "currency", "price_basis", "maker", "silhouette", "colourway", "era", "size_label"),
    *("size_system", "grade", "box", "tags", "overlay", "lasting"),
)
"""The fields whose values are counted, beside the lists."""

PLAIN: tuple[str, ...] = tuple(
    column.name for column in SALE_RECORD if column.source and not column.origin and column.name not in WORDS
)
"""The fields of which only the rows are counted that say anything."""

IN_FIT = "in the fit"
NOT_SOLD: tuple[str, ...] = ("unsold", "withdrawn", "open")

Value = float | date | None


@dataclass(frozen=True)
class FieldRead:
    """What rows say of one field: how many by origin, how many nothing, and what.

    `origins` counts rows by where the value comes from; `values` are (value, rows), the most frequent first, for a
    field that is a word or a list; `least` and `greatest` are the ends of one that is a number or a day.
    """

    field: str
    rows: int
    origins: dict[str, int]
    unknown: int
    values: tuple[tuple[str, int], ...]
    least: Value
    greatest: Value

    @property
    def known(self) -> int:
        """Return how many rows say it, wherever it comes from."""
        return self.rows - self.unknown


@dataclass(frozen=True)
class MoneyRead:
    """The prices of rows of one currency and status: as stated, and what buyers paid in the base currency."""

    currency: str | None
    status: str
    rows: int
    priced: int
    stated_sum: float | None
    least: float | None
    middle: float | None
    greatest: float | None
    paid_sum: float | None
    asked: int
    ask_sum: float | None


@dataclass(frozen=True)
class Oddity:
    """One odd value, and where it stands.

    `kind` is "price", "day", "unread" (a cell that could not be read), "size" or "level" (of one sale alone);
    `beside` is what it is compared with (a median, the nearest other day, why it was not read), `times` a price over
    the median.
    """

    kind: str
    field: str
    value: str
    beside: str | None
    times: float | None
    file_name: str
    sheet: str
    row_number: int
    title: str | None


@dataclass(frozen=True)
class RowRead:
    """One row as it was read, beside the cells that the export wrote (None where they were not kept).

    `origins` says where each value comes from that may come from elsewhere than its own column.
    """

    file_name: str
    sheet: str
    row_number: int
    read: dict[str, str]
    origins: dict[str, str]
    cells: dict[str, str] | None


@dataclass(frozen=True)
class Understood:
    """What was understood of one file, or of all of them (`files` names each).

    `rows` is how many were read, `recorded` of them can be sale records. `uses` counts what becomes of rows: "in the
    fit", or why not. `odd_rows` counts odd values by kind; `oddities` lists them, at most MOST_ODD of a kind.
    """

    files: tuple[str, ...]
    base_currency: str
    rows: int
    recorded: int
    fields: tuple[FieldRead, ...]
    money: tuple[MoneyRead, ...]
    odd_rows: dict[str, int]
    oddities: tuple[Oddity, ...]
    sample: tuple[RowRead, ...]
    uses: dict[str, int]
    nameless: int
    likely: tuple[Offered, ...]

    @property
    def left_out(self) -> dict[str, int]:
        """Return what the fit leaves out, by reason, the most frequent first."""
        return {use: rows for use, rows in self.uses.items() if use != IN_FIT}

    def field(self, name: str) -> FieldRead:
        """Return what was read of one field."""
        return next(field for field in self.fields if field.field == name)


def understand(frames: Mapping[str, pl.DataFrame], *, base_currency: str) -> Understood:
    """Return what was understood, of the rows of the statements in sql/understood, by their names.

    `frames["files"]` names the files (file_name, rows_read), `frames["likely"]` the likely silhouettes of titles
    without one (written, likely, rows).
    """
    files, money, odd = frames["files"], frames["money"], frames["oddities"]
    recorded = int(money["row_count"].sum())
    return Understood(
        files=tuple(files["file_name"].to_list()),
        base_currency=base_currency,
        rows=int(files["rows_read"].sum()),
        recorded=recorded,
        fields=_fields(frames["fields"], frames["ranges"], recorded),
        money=tuple(MoneyRead(*row) for row in money.iter_rows()),
        odd_rows=dict(odd.select("kind", "of_kind").unique(maintain_order=True).iter_rows()),
        oddities=tuple(Oddity(*row) for row in odd.drop("of_kind").iter_rows()),
        sample=tuple(_row(row) for row in frames["sample"].iter_rows(named=True)),
        uses=dict(frames["uses"].iter_rows()),
        nameless=int(frames["nameless"]["row_count"].sum()),
        likely=tuple(Offered(*row) for row in frames["likely"].iter_rows()),
    )


def _fields(counts: pl.DataFrame, ranges: pl.DataFrame, rows: int) -> tuple[FieldRead, ...]:
    """Return one FieldRead a field that an export can fill, in the order of a sale record."""
    ordered = counts.sort("row_count", "value", descending=[True, False], nulls_last=True)
    by_field: dict[str, list[tuple[str | None, int]]] = {}
    for field, value, row_count in ordered.iter_rows():
        by_field.setdefault(field, []).append((value, row_count))
    ends = {row.pop("end_of_range"): row for row in ranges.to_dicts()}
    return tuple(
        _field(column.name, by_field, ends, rows)
        for column in SALE_RECORD
        if column.name in (*WORDS, *PLAIN) or column.origin
    )


def _field(
    name: str,
    counts: Mapping[str, list[tuple[str | None, int]]],
    ends: Mapping[str, Mapping[str, Any]],
    rows: int,
) -> FieldRead:
    values = tuple((value, number) for value, number in counts.get(name, []) if value not in (None, UNKNOWN))
    if COLUMN[name].origin:
        by_origin = {
            origin: number for origin, number in counts.get(f"{name}_origin", []) if origin is not None
        }
        unknown = by_origin.pop(UNKNOWN, 0)
        origins = {origin: by_origin.pop(origin) for origin in ORIGINS if origin in by_origin} | by_origin
    else:
        known = sum(number for value, number in counts.get(name, []) if value != UNKNOWN)
        origins, unknown = {"stated": known} if known else {}, rows - known
    return FieldRead(
        field=name,
        rows=rows,
        origins=origins,
        unknown=unknown,
        values=tuple((str(value), number) for value, number in values),
        least=_end(ends["least"].get(name)),
        greatest=_end(ends["greatest"].get(name)),
    )


def _end(value: Decimal | float | date | None) -> Value:
    return value if value is None or isinstance(value, date) else float(value)


def _row(row: Mapping[str, Any]) -> RowRead:
    """Return a sample row: of what was read, what is known, as text."""
    record: dict[str, Any] = json.loads(row["record"])
    cells = row.get("cells")
    return RowRead(
        file_name=row["file_name"],
        sheet=row["sheet"],
        row_number=row["row_number"],
        read={
            column.name: str(shown(record[column.name]))
            for column in SALE_RECORD
            if record.get(column.name) not in (None, UNKNOWN, False)
        },
        origins={
            column.name: record[f"{column.name}_origin"]
            for column in SALE_RECORD
            if column.origin and record[f"{column.name}_origin"] not in (None, UNKNOWN)
        },
        cells=None if cells is None else {name: text for name, text in json.loads(cells).items() if text},
    )
