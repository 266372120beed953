"""What a stock list says of its pairs beside a sale record: bought on, work paid, where offered, and whose money."""

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.ingest.contacts import mask_contacts
from pipeline.ingest.dates import read_dates
from pipeline.ingest.fields import read_fields
from pipeline.ingest.lookup import look_up
from pipeline.ingest.minor_units import in_major_units
from pipeline.ingest.names import allowed_words, read_names
from pipeline.ingest.numbers import AMOUNT, read_amounts, to_minor_unit
from pipeline.ingest.offers import low_ends, read_currencies
from pipeline.ingest.readers import TextTable
from pipeline.schema import PICTURE, STOCK_LISTING

AMOUNTS = {"cost": "price_native", "work": "work_paid", "ask": "ask_native"}
"""The fields of the amounts that a stock list states, by what they are."""

PLACE = ["sheet", "row_number"]
NO_CURRENCY = "neither its cell, its row nor the map names a currency"
NO_VENUE = "no venue of the market file has this name; it is kept as the name of a place"


def with_stock_columns(
    pairs: pl.DataFrame, table: TextTable, export_map: ExportMap, market: Market, *, where: str
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the pairs of a table of a stock list with the columns of STOCK_LISTING, and what could not be read.

    `pairs` are its staged rows (see `pipeline.ingest.normalise`). A map that reads no `bought_on` says by `offered_on`
    when a pair came in (maps from before it was a field of its own do). An amount is in the currency that its cell
    names, else its row, else the map; where the map reads a column of currencies and names none itself, an amount
    without one has none. What could not be read are the sheet, row_number, field, value and reason of cells.
    """
    said = _read(table, export_map, market, where=where)
    beside = pairs.join(said, on=PLACE, how="left", maintain_order="left")
    if "bought_on" not in export_map.columns:
        beside = beside.with_columns(bought_on="offered_on", offered_on=pl.lit(None, dtype=pl.Date))
    kept = beside.select(*pairs.columns, *(pl.col(one.name).cast(one.dtype) for one in STOCK_LISTING))
    return kept, _unread(beside)


def picture_names() -> pl.Expr:
    """Return the names of photographs that a cell of PICTURE lists, as `pictures`."""
    names = pl.col(PICTURE).str.replace_all("|", ";", literal=True).str.split(";")
    return names.list.eval(pl.element().str.strip_chars().filter(pl.element().str.contains(r"\S"))).alias(
        "pictures"
    )


def each_cell_once(own: pl.DataFrame, others: pl.DataFrame) -> pl.DataFrame:
    """Return the cells that could not be read, each once, those of the stock list's own columns first."""
    cells = pl.concat([own, others])
    return cells.unique([*PLACE, "field"], keep="first", maintain_order=True)


def _read(table: TextTable, export_map: ExportMap, market: Market, *, where: str) -> pl.DataFrame:
    """Return, row by row, the columns of STOCK_LISTING, and beside each cell that was read its text and fault."""
    written = read_fields(table.cells, export_map, numbers_are_plain=table.numbers_are_plain, where=where)
    fields = in_major_units(written, export_map, market).fields
    stated = look_up(fields["currency"], read_currencies(fields["currency"]))["currency_stated"]
    usual = _usual_currency(export_map, market)
    places = pl.DataFrame({"row_number": table.row_numbers}).with_columns(sheet=pl.lit(table.sheet))
    parts = [places, stated.alias("row_currency").to_frame()]
    for name, field in AMOUNTS.items():
        cells = low_ends(fields[field]) if name == "ask" else fields[field]
        amounts = look_up(cells, read_amounts(cells, decimal_mark=export_map.decimal_mark, currency=usual))
        parts += [
            amounts.select(pl.all().name.prefix(f"{name}_")),
            written[field].alias(f"{name}_text").to_frame(),
        ]
    days = read_dates(fields["bought_on"], order=export_map.date_order, language=export_map.language)
    parts += [
        look_up(fields["bought_on"], days).select(bought_on="day", bought_reason="reason"),
        fields.select(picture_names(), bought_text="bought_on"),
        mask_contacts(fields.select(place_text="offered_at"))[0],
    ]
    venues = read_names(fields["offered_at"], allowed_words(venue.name for venue in market.venues))
    parts.append(look_up(fields["offered_at"], venues).select(venue_read="value"))
    read = pl.concat(parts, how="horizontal")
    own = {
        name: pl.coalesce(f"{name}_currency", "row_currency", pl.lit(usual, dtype=pl.String))
        for name in AMOUNTS
    }
    exact = pl.when(pl.col("work_finer").is_null()).then("work_amount")
    work = exact.otherwise(to_minor_unit(pl.col("work_finer"), own["work"]))
    return read.with_columns(
        work_paid=pl.when(pl.col("work_amount") >= 0).then(work).cast(AMOUNT),
        offered_at=pl.coalesce("venue_read", "place_text"),
        **{
            f"{name}_currency": pl.when(pl.col(f"{name}_amount").is_not_null()).then(own[name])
            for name in AMOUNTS
        },
    )


def _usual_currency(export_map: ExportMap, market: Market) -> str | None:
    """Return the currency of an amount that names none; None where a column should say it, so that none is guessed."""
    if export_map.currency is not None or "currency" in export_map.columns:
        return export_map.currency
    return market.venue(export_map.venue).currency


def _unread(beside: pl.DataFrame) -> pl.DataFrame:
    """Return sheet, row_number, field, value and reason of what the pairs' own cells say and does not count."""
    place, work = pl.col("place_text"), pl.col("work_amount")
    doubts = [
        ("bought_on", "bought_text", pl.col("bought_reason")),
        ("work_paid", "work_text", pl.coalesce("work_reason", _when(work < 0, "below zero"))),
        ("offered_at", "place_text", _when(place.is_not_null() & pl.col("venue_read").is_null(), NO_VENUE)),
        (
            "price_native",
            "cost_text",
            _when(pl.col("cost_amount") == 0, "a cost of zero counts as not known"),
        ),
        ("ask_native", "ask_text", _when(pl.col("ask_amount") == 0, "an ask of zero counts as no ask")),
        *(
            (field, f"{name}_text", _when(_has_no_currency(name), f"{NO_CURRENCY}: it does not count"))
            for name, field in AMOUNTS.items()
        ),
    ]
    found = [
        beside.select(*PLACE, field=pl.lit(field), value=pl.col(text), reason=reason).drop_nulls("reason")
        for field, text, reason in doubts
    ]
    return pl.concat(found)


def _has_no_currency(name: str) -> pl.Expr:
    return (pl.col(f"{name}_amount") != 0) & pl.col(f"{name}_currency").is_null()


def _when(condition: pl.Expr, words: str) -> pl.Expr:
    return pl.when(condition).then(pl.lit(words))
