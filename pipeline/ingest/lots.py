"""Files of pairs that are not sales: upcoming lots, and the stock list."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.ingest.choice import read_mapped
from pipeline.ingest.dates import read_times
from pipeline.ingest.fields import read_fields
from pipeline.ingest.labels import read_by_charts
from pipeline.ingest.money import market_rates
from pipeline.ingest.normalise import normalise
from pipeline.ingest.readers import TextTable
from pipeline.ingest.readers.export import open_export
from pipeline.ingest.size_charts import size_charts
from pipeline.ingest.sizes import SizeChart
from pipeline.ingest.stock import each_cell_once, picture_names, with_stock_columns
from pipeline.schema import SizeSystem


def read_lots(
    path: Path,
    market: Market,
    *,
    as_of: date,
    map_name: str | None = None,
    holds: tuple[str, ...] = ("lots", "stock"),
) -> tuple[pl.DataFrame, pl.DataFrame, tuple[str, ...]]:
    """Read a file of pairs (a map with `holds` lots or stock) with the readers and rules of ingest.

    Returns one row a pair (sheet, row_number, and the columns of a sale record that one row can tell;
    status is "open", `price_native` the present bid or the cost; size_assumed Boolean: its size names no system
    and was read in the owner's usual one, as in a stock list; closes_at String: the time of day beside the day on which
    it closes; pictures: the names of its photographs, a list; unread: the cells that say something which could not be
    read, a list of field, value and reason), the rows that cannot be read (sheet, row_number, field, value,
    reason, cells), and what is to be said of the file (headings and totals that were set aside). Raises ExportError,
    MapError.
    """
    export = read_mapped(open_export(path), market, map_name, holds)
    rates = market_rates(market)
    export_map, where = export.export_map, str(path)
    is_stock = export_map.holds == "stock"
    read = [normalise(table, export_map, market, rates, as_of=as_of, where=where) for table in export.tables]
    staged, unread = [rows.staged for rows in read], [rows.unread for rows in read]
    if is_stock:
        for number, table in enumerate(export.tables):
            staged[number], own = with_stock_columns(staged[number], table, export_map, market, where=where)
            unread[number] = each_cell_once(own, unread[number])
    beside = pl.concat([_beside_the_record(table, export_map, where) for table in export.tables])
    pairs = pl.concat(staged).sort("sheet", "row_number")
    pairs = pairs.join(beside, on=["sheet", "row_number"], how="left", maintain_order="left")
    usual = market.sizes.usual if is_stock else None
    refused = pl.concat([rows.quarantine for rows in read]).sort("sheet", "row_number")
    notes = tuple(dict.fromkeys(f"{path.name}: {note}." for table in export.tables for note in table.notes))
    pairs = in_usual_system(pairs, usual, size_charts(market))
    return with_unread(pairs, pl.concat(unread)), refused, notes


def _beside_the_record(table: TextTable, export_map: ExportMap, where: str) -> pl.DataFrame:
    """Return sheet and row_number of the rows of a table with what no sale record holds: closes_at and pictures.

    The pictures of a stock list are among its own columns.
    """
    fields = read_fields(table.cells, export_map, numbers_are_plain=table.numbers_are_plain, where=where)
    return fields.select(
        *([] if export_map.holds == "stock" else [picture_names()]),
        row_number=pl.Series(table.row_numbers),
        closes_at=read_times(fields["closed_on"]),
        sheet=pl.lit(table.sheet),
    )


def with_unread(pairs: pl.DataFrame, unread: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs with unread: the field, value and reason of each of their cells that could not be read.

    `unread` holds them by sheet and row_number; a size that no system explains is one of them.
    """
    place, cell = ["sheet", "row_number"], ["field", "value", "reason"]
    cells = unread.select(*place, *cell).sort(*place, "field")
    by_row = cells.group_by(place, maintain_order=True).agg(unread=pl.struct(cell))
    return with_sizes_unread(
        pairs.join(by_row, on=place, how="left", maintain_order="left").with_columns(
            pl.col("unread").fill_null([])
        )
    )


def with_sizes_unread(pairs: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs with each size that no system explains among the cells of `unread`."""
    size = pl.struct(
        field=pl.lit("size_label"),
        value="size_label",
        reason=pl.lit("no foot length can be read in it"),
    )
    is_unread = pl.col("flags").list.contains("size label unreadable")
    return pairs.with_columns(
        unread=pl.when(is_unread)
        .then(pl.concat_list("unread", size))
        .otherwise("unread")
        .list.eval(pl.element().sort_by(pl.element().struct.field("field")))
    )


def in_usual_system(
    pairs: pl.DataFrame, usual: SizeSystem | None, charts: Mapping[str, SizeChart]
) -> pl.DataFrame:
    """Return the pairs with size_assumed, those labels that name no system read in the usual one.

    A label of a maker with one of the `charts` is read by it.
    """
    without = pl.col("size_label").is_not_null() & pl.col("size_system").is_null()
    if usual is None:
        return pairs.with_columns(size_assumed=pl.lit(value=False))
    systems = pl.Series([usual], dtype=pl.String).new_from_index(0, pairs.height)
    read = read_by_charts(pairs["size_label"], systems, pairs["maker"], charts)
    both = pl.concat([pairs, read.select(system="size_system", mm="foot_mm")], how="horizontal")
    return (
        both.with_columns(size_assumed=without & pl.col("mm").is_not_null())
        .with_columns(
            size_system=pl.when("size_assumed").then("system").otherwise("size_system"),
            foot_mm=pl.when("size_assumed").then("mm").otherwise("foot_mm"),
            flags=pl.when("size_assumed")
            .then(pl.col("flags").list.set_difference(["size label unreadable"]))
            .otherwise("flags"),
        )
        .drop("system", "mm")
    )
