"""Records as they are listed, and one of them beside what its rows say."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.ingest.part_payments import IN_PARTS
from pipeline.ingest.put_right import shown
from pipeline.schema import SALE_RECORD, UNKNOWN

_COUNTS = {"hammer": "a hammer price", "net": "the seller's net", "all-in": "the price to the buyer"}
"""What a price counts, by its basis."""

_SUM = (
    "The price is the amount of this row and that of its deposit, which the export has in a row of its own."
)


@dataclass(frozen=True)
class Record:
    """One record of a list; `use` says whether it is in the fit, or why not."""

    short_id: str
    record_id: str
    day: date | None
    venue: str
    status: str
    title: str | None
    silhouette: str | None
    colourway: str | None
    era: str | None
    size_label: str | None
    size_system: str | None
    foot_mm: int | None
    grade: float | None
    price_paid: Decimal | None
    currency: str | None
    price_native: Decimal | None
    lot_ref: str | None
    stock_ref: str | None
    use: str
    is_corrected: bool


@dataclass(frozen=True)
class Records:
    """The records that match, as far as they are listed; `matching` counts all, `start` those before the listed."""

    currency: str
    matching: int
    listed: tuple[Record, ...]
    start: int = 0

    @property
    def has_more(self) -> bool:
        """Whether records follow the listed ones."""
        return self.start + len(self.listed) < self.matching


@dataclass(frozen=True)
class WrittenSales:
    """Sales that were written into files of a folder; `excluded` counts those left out pending review."""

    folder: Path
    files: int
    sales: int
    excluded: int


@dataclass(frozen=True)
class RemovedRow:
    """A row that the owner has removed, and where it stands in its file."""

    short_id: str
    row_key: str
    file_name: str
    sheet: str
    row_number: int
    day: date | None
    venue: str
    title: str | None
    price_paid: Decimal | None


@dataclass(frozen=True)
class FieldBeside:
    """One field of a row: what its cells say, and what was read of it; `corrected` is the owner's text."""

    field: str
    cells: str
    read: str | None
    origin: str | None
    corrected: str | None


@dataclass(frozen=True)
class RowBeside:
    """One row of a file, field by field; `has_cells` is false where an earlier version read it and kept none.

    `price_note` says what a price counts that the owner corrected, or that is the sum of a deposit and a balance; it
    is empty for any other.
    """

    file_name: str
    sheet: str
    row_number: int
    fields: tuple[FieldBeside, ...]
    has_cells: bool
    price_note: str


@dataclass(frozen=True)
class OneRecord:
    """One record: what is known of it, its rows, the decisions on it, other offers of the pair, and its value.

    `value` is what the fit gives for a sale like it on its day, None where it is not in the fit or there is none.
    """

    record_id: str
    title: str
    use: str
    currency: str
    price_paid: float | None
    value: float | None
    known: dict[str, str]
    rows: tuple[RowBeside, ...]
    decisions: tuple[dict[str, Any], ...]
    short_ids: dict[str, str]
    offers: tuple[dict[str, Any], ...]
    history: pl.DataFrame = field(default_factory=pl.DataFrame)
    """What is known of its pair beside offers (see `pipeline.answers.stock.history`); empty where that is nothing."""


@dataclass(frozen=True)
class PairHistory:
    """All that is known of the pair, or the pairs, of one stock number, in the order of days.

    `events` are those of `pipeline.answers.stock.history`, `bought` the days of buying: a number that has several was
    used again. `short_ids` are those of the records.
    """

    number: str
    pair: str
    as_of: date
    bought: tuple[date, ...]
    events: pl.DataFrame
    short_ids: dict[str, str]


def row_beside(row: Mapping[str, Any], market: Market, corrections: Mapping[str, str]) -> RowBeside:
    """Return a row (of sql/staging/rows_of_keys) field by field, its cells beside what was read of them."""
    record: dict[str, Any] = json.loads(row["record"])
    cells: dict[str, str | None] = {} if row["cells"] is None else json.loads(row["cells"])
    export_map = market.maps.get(row["map_name"])
    columns = {name: name for name in cells} if export_map is None else export_map.columns
    fields = []
    for column in SALE_RECORD:
        headings = columns.get(column.name, ())
        names = (headings,) if isinstance(headings, str) else tuple(headings)
        said = {name: cells[name] for name in names if cells.get(name)}
        value = shown(record.get(column.name))
        is_read = column.source and value not in (None, UNKNOWN, "none")
        if not said and not is_read and column.name not in corrections:
            continue
        fields.append(
            FieldBeside(
                field=column.name,
                cells="; ".join(f"{name}: {text}" for name, text in said.items()),
                read=None if value == UNKNOWN else value,
                origin=record.get(f"{column.name}_origin"),
                corrected=corrections.get(column.name),
            )
        )
    return RowBeside(
        row["file_name"],
        row["sheet"],
        row["row_number"],
        tuple(fields),
        bool(cells),
        _price_note(corrections, export_map, in_parts=IN_PARTS in (record.get("flags") or ())),
    )


def _price_note(corrections: Mapping[str, str], export_map: ExportMap | None, *, in_parts: bool) -> str:
    """Return what a price counts that is corrected, or the sum of two parts, in words; empty for any other."""
    if "price_native" not in corrections:
        return _SUM if in_parts else ""
    own = corrections.get("price_basis")
    if own == "all-in":
        return "The corrected price is all that the buyer paid: nothing is added to it."
    basis = own or (export_map.price_basis if export_map is not None else None) or "all-in"
    untaxed = export_map is not None and export_map.tax == "excluded"
    if basis == "all-in" and not untaxed:
        return "The corrected price is all that the buyer paid, as the export's is."
    without = " without tax" if untaxed else ""
    follows = {"hammer": "the premium", "net": "what the buyer paid"}.get(basis, "")
    added = " with ".join(filter(None, (follows, "the tax" if untaxed else "")))
    return (
        f"The corrected price is {_COUNTS[basis]}{without}: {added} follows from it. "
        "`price_basis=all-in` says that it is all that the buyer paid."
    )


def known_of(record: Mapping[str, Any]) -> dict[str, str]:
    """Return what is known of a record: field → text, in the order of a sale record."""
    known = {}
    for column in SALE_RECORD:
        text = shown(record.get(column.name))
        if column.name != "record_id" and text not in (None, UNKNOWN, "no"):
            known[column.name] = str(text)
    return known
