"""Read kept rows again with the owner's corrections in them, by the map of their file and the present market file."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from pipeline.alike import find_alike
from pipeline.config import ExportMap, Market
from pipeline.ingest.fields import is_list, mapped_columns
from pipeline.ingest.headers import missing_columns
from pipeline.ingest.normalise import normalise
from pipeline.ingest.part_payments import IN_PARTS
from pipeline.ingest.readers import TextTable
from pipeline.ingest.title_memory import TitleMemory
from pipeline.schema import SOURCE_FIELDS, UNKNOWN

AMOUNTS = ("price_native", "ask_native")
DAYS = ("offered_on", "closed_on", "sold_on")
BY_HAND = "by hand"
"""What the file of the sales that the owner added is called, and its map."""

OWN_MARK = ","
"""What parts the entries of a list that the owner writes."""

_STATED = ("stated", None)
"""The origins of a value that a cell said, None for a column without an origin."""


@dataclass(frozen=True)
class Reread:
    """Rows that were read again.

    staged
        row_id and the columns of a sale record that one row can state: one row a row that can still be one.
    refused
        row_id, field, value, reason: the rows that can be none with the corrections in them.
    unread
        row_id, field, value, reason: cells and corrections that could not be read.
    """

    staged: pl.DataFrame
    refused: pl.DataFrame
    unread: pl.DataFrame


def read_again(
    rows: pl.DataFrame, corrections: pl.DataFrame, market: Market, rates: pl.DataFrame, *, as_of: date
) -> Reread:
    """Read rows again, each with the corrections of its key.

    `rows` are those of sql/staging/rows_of_keys, `corrections` hold row_key, field and value (the owner's text; empty
    where the value is not known). A row whose cells were not kept, or whose map is gone from the market file, is read
    from what was stated in it.
    """
    titles = TitleMemory(market)
    parts = [
        _read(group, export_map, corrections, market, rates, as_of=as_of, titles=titles)
        for group, export_map in _by_map(rows, market)
    ]
    return Reread(*(pl.concat(part) for part in zip(*parts, strict=True)))


def additions_by_map(added: pl.DataFrame, market: Market) -> list[tuple[pl.DataFrame, ExportMap]]:
    """Return the sales that were added by hand, as cells beside row_number, in parts with the maps to read them by.

    `added` hold row_number and cells (JSON of field and text; `price_basis` is all-in where it is not said).
    """
    said = [json.loads(cells) for cells in added["cells"].to_list()]
    schema = dict.fromkeys((*SOURCE_FIELDS, "price_basis"), pl.String)
    rows = pl.DataFrame(said, schema=schema).with_columns(
        added["row_number"], pl.col("price_basis").fill_null("all-in"), pl.col("venue").fill_null("")
    )
    parts = []
    by_reading = rows.group_by("venue", "price_basis", pl.col("status").is_null(), maintain_order=True)
    for (venue, basis, is_untold), group in by_reading:
        fields = {name: name for name in SOURCE_FIELDS if not (is_untold and name == "status")}
        parts.append(
            (
                group.drop("price_basis", *(["status"] if is_untold else [])),
                map_of_records(market, str(venue), str(basis), fields),
            )
        )
    return parts


def map_of_records(market: Market, venue: str, price_basis: str, columns: Mapping[str, str]) -> ExportMap:
    """Return the map of cells in plain form, whose headings are the fields of a sale record."""
    known = find_alike(venue, market.venue_by_name) or market.venues[0].name
    return ExportMap.model_validate(
        {
            "venue": known,
            "files": BY_HAND,
            "price_basis": price_basis,
            "list_mark": OWN_MARK,
            "columns": dict(columns),
        }
    )


def _by_map(rows: pl.DataFrame, market: Market) -> list[tuple[pl.DataFrame, ExportMap]]:
    """Return the rows in parts, each with cells (JSON) of the same headings and the map that they are read by."""
    parts = []
    named = rows.with_columns(pl.col("headings").list.join("\x1f").fill_null(""))
    for (map_name, headings), group in named.group_by("map_name", "headings", maintain_order=True):
        export_map = market.maps.get(str(map_name))
        columns = str(headings).split("\x1f")
        if export_map is not None and not missing_columns(columns, mapped_columns(export_map)):
            parts.append((group, export_map))
        else:
            parts += _from_records(group, market)
    return parts


def _from_records(rows: pl.DataFrame, market: Market) -> list[tuple[pl.DataFrame, ExportMap]]:
    """Return rows in parts by venue and price basis, with cells of what was stated in them, and their maps."""
    records: list[dict[str, Any]] = [json.loads(record) for record in rows["record"].to_list()]
    named = rows.with_columns(
        pl.Series("cells", [json.dumps(_stated(record)) for record in records]),
        pl.Series("venue", [record["venue"] for record in records], dtype=pl.String),
        pl.Series("price_basis", [record["price_basis"] for record in records], dtype=pl.String),
    )
    fields = {name: name for name in SOURCE_FIELDS}
    return [
        (group, map_of_records(market, str(venue), "all-in" if basis is None else str(basis), fields))
        for (venue, basis), group in named.group_by("venue", "price_basis", maintain_order=True)
    ]


def _stated(record: Mapping[str, Any]) -> dict[str, str | None]:
    """Return field → text of what a record's row stated; None where it stated nothing."""
    known = dict(record)
    if record["price_basis"] == "all-in" and record["all_in_native"] is not None:
        known["price_native"] = record["all_in_native"]
    return {
        field: _text(known[field])
        if record.get(f"{field}_origin") in _STATED and known[field] != UNKNOWN
        else None
        for field in SOURCE_FIELDS
    }


def _text(value: Any) -> str | None:
    if isinstance(value, list):
        return OWN_MARK.join(value) or "none"
    return f"{value:.4f}".rstrip("0").rstrip(".") if isinstance(value, float) else value


def _read(
    rows: pl.DataFrame,
    export_map: ExportMap,
    corrections: pl.DataFrame,
    market: Market,
    rates: pl.DataFrame,
    *,
    as_of: date,
    titles: TitleMemory,
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Return staged, refused and unread of rows whose cells have the same headings (see Reread)."""
    names = json.loads(rows["cells"][0])
    shape = pl.Struct(dict.fromkeys(names, pl.String))
    cells = rows["cells"].str.json_decode(shape).struct.unnest()
    records = [json.loads(record) for record in rows["record"].to_list()]
    are_sums = pl.Series([IN_PARTS in record["flags"] for record in records], dtype=pl.Boolean)
    sums = pl.Series([_text(record["price_native"]) for record in records], dtype=pl.String)
    own = _with_sums(_beside(rows, corrections, export_map), sums.set(~are_sums, None), export_map)
    read = normalise(
        TextTable("", cells, rows["row_id"].alias("row_number"), numbers_are_plain=True),
        export_map,
        market,
        rates,
        as_of=as_of,
        where=rows["file_name"][0],
        titles=titles,
        corrections=own,
        are_sums=are_sums,
    )
    staged = read.staged.rename({"row_number": "row_id"})
    if "pair_number" in staged.columns:
        staged = staged.join(rows, on=["row_id", "pair_number"], how="semi").drop("pair_number")
        staged = staged.with_columns(_unnumbered(staged, rows, own))
    return (
        staged.drop("sheet"),
        read.quarantine.select(pl.col("row_number").alias("row_id"), "field", "value", "reason"),
        read.unread.select(pl.col("row_number").alias("row_id"), "field", "value", "reason"),
    )


def _unnumbered(staged: pl.DataFrame, rows: pl.DataFrame, own: pl.DataFrame) -> list[pl.Series]:
    """Return the owner's own lot and stock numbers of pairs, without the number that a pair of a line has."""
    said = pl.concat([rows.select("row_id"), own.select(pl.all().name.suffix("_own"))], how="horizontal")
    beside = staged.join(said, on="row_id", how="left", maintain_order="left")
    return [
        beside.select(
            pl.when(pl.col(f"{name}_own").is_null())
            .then(name)
            .when(pl.col(f"{name}_own") != "")
            .then(f"{name}_own")
            .alias(name)
        ).to_series()
        for name in ("lot_ref", "stock_ref")
        if name in own.columns
    ]


def _beside(rows: pl.DataFrame, corrections: pl.DataFrame, export_map: ExportMap) -> pl.DataFrame:
    """Return the corrections beside the rows, in their order, one column a field, as the map's cells are written."""
    own = corrections.filter(pl.col("row_key").is_in(rows["row_key"].to_list()))
    if own.is_empty():
        return pl.DataFrame()
    wide = own.pivot(on="field", index="row_key", values="value")
    beside = (
        rows.select("row_key").join(wide, on="row_key", how="left", maintain_order="left").drop("row_key")
    )
    return beside.with_columns(_as_cells(name, export_map) for name in beside.columns)


def _with_sums(own: pl.DataFrame, sums: pl.Series, export_map: ExportMap) -> pl.DataFrame:
    """Return the corrections with the price of each balance and its deposits, where the owner gave no other."""
    if sums.null_count() == sums.len():
        return own
    written = sums.to_frame("price_native").select(_as_cells("price_native", export_map))["price_native"]
    if "price_native" in own.columns:
        return own.with_columns(pl.coalesce("price_native", written).alias("price_native"))
    return own.with_columns(written.alias("price_native"))


def _as_cells(field: str, export_map: ExportMap) -> pl.Expr:
    """Return the owner's text (days as 2024-05-03, a decimal point, lists with commas) as the map's cells write it."""
    text = pl.col(field)
    if field in AMOUNTS and export_map.decimal_mark == ",":
        return text.str.replace(".", ",", literal=True)
    if is_list(field):
        return (
            text.str.split(OWN_MARK).list.eval(pl.element().str.strip_chars()).list.join(export_map.list_mark)
        )
    return text
