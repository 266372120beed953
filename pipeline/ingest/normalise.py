"""From a table of text to staged rows: one pure function, every value read, none guessed."""

from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.heed import Heed, go_on
from pipeline.ingest.aside import rows_aside
from pipeline.ingest.attributes import read_attributes, read_stated
from pipeline.ingest.combined import take_apart
from pipeline.ingest.contacts import Masked, mask_contacts
from pipeline.ingest.corrections import own_prices, settle_corrected, with_corrections, without_corrected
from pipeline.ingest.faults import FAULT_COLUMNS
from pipeline.ingest.fields import mapped_columns, read_fields, without_long_cells
from pipeline.ingest.flags import flag_lists, flag_text
from pipeline.ingest.free_text import said_in_texts, texts_disagree
from pipeline.ingest.headers import resolve_column
from pipeline.ingest.labels import read_labels
from pipeline.ingest.lookup import look_up
from pipeline.ingest.minor_units import in_major_units
from pipeline.ingest.money import price_offers
from pipeline.ingest.offers import UNDONE, read_offers
from pipeline.ingest.part_payments import IN_PARTS, known_balances, read_part_payments
from pipeline.ingest.production import read_production
from pipeline.ingest.quantity import each_pair
from pipeline.ingest.readers import TextTable
from pipeline.ingest.size_charts import size_charts
from pipeline.ingest.taken import names_offered, words_taken
from pipeline.ingest.title_memory import TitleMemory
from pipeline.schema import HOLDING_FLAGS, QUANTITY, record_schema

NOT_STAGED = ("record_id", "pair_key")
"""The columns of a sale record that only the whole ledger can tell."""

FREE_TEXT = ("title", "notes", "size_label", "stamp_text")
"""The fields that are kept as they were written, but for contact details, which are masked."""

REFERENCES = ("sale_ref", "lot_ref", "stock_ref")
"""The fields that tell one lot or pair from another: never masked, so that no two become one."""


@dataclass(frozen=True)
class Normalised:
    """What a table of text came to.

    staged
        sheet, row_number and the columns of a sale record but NOT_STAGED: one row a row that can be one; of several
        pairs of one kind one row each, with pair_number.
    cells
        The staged rows as the export wrote them, one text each: JSON of the columns that the map reads.
    quarantine
        sheet, row_number, field, value, reason, cells (JSON of the columns that the map reads).
    unread
        sheet, row_number, field, value, reason: stated cells that could not be read, of staged rows.
    masked
        The contact details that were masked in what is kept, each counted once, where the export wrote it.
    rounded
        How many amounts had more than four decimals and were rounded to their currency's minor unit.
    taken, likely
        What was taken for another word of the market file, and the silhouettes offered where none was found
        (see `pipeline.ingest.taken`).
    reversals
        sheet, row_number, kind, venue, sale_ref, lot_ref, stock_ref, title, reversed_on, currency, amount, pairs: the
        rows that undo a sale, which are among the quarantined.
    """

    staged: pl.DataFrame
    cells: pl.Series
    quarantine: pl.DataFrame
    unread: pl.DataFrame
    masked: Masked
    rounded: int
    taken: pl.DataFrame
    likely: pl.DataFrame
    reversals: pl.DataFrame


def staged_schema() -> dict[str, pl.DataType]:
    """Return name → dtype of the columns of a sale record that one row can tell."""
    return {name: dtype for name, dtype in record_schema().items() if name not in NOT_STAGED}


def normalise(
    table: TextTable,
    export_map: ExportMap,
    market: Market,
    rates: pl.DataFrame,
    *,
    as_of: date,
    where: str,
    titles: TitleMemory | None = None,
    corrections: pl.DataFrame | None = None,
    are_sums: pl.Series | None = None,
    heed: Heed = go_on,
) -> Normalised:
    """Return the table's rows as sale records, and those that cannot be any.

    Rows with faults of their own (a wrong number of cells) are among the quarantined. The order of the
    rows does not matter. `titles` keeps the titles that other parts of the file had as well. `corrections` are the
    owner's own texts for fields of these rows (see `pipeline.ingest.corrections`). `are_sums` says of rows that
    are read again which of them are balances to whose price the deposit was added. `heed` is called between steps.
    Raises MapError where the map
    names a column that is not there.
    """
    if corrections is None:
        corrections = pl.DataFrame()
    fields = read_fields(table.cells, export_map, numbers_are_plain=table.numbers_are_plain, where=where)
    heed()
    fields, apart = take_apart(fields, export_map, market)
    major = in_major_units(fields, export_map, market)
    fields = major.fields
    own = own_prices(fields, corrections)
    if are_sums is None:
        parts = read_part_payments(fields, export_map, market, own, as_of=as_of)
    else:
        parts = known_balances(fields, export_map, are_sums)
    fields = parts.fields
    fields, too_long = without_long_cells(with_corrections(fields, corrections))
    heed()
    offers = read_offers(fields, export_map, market, own, as_of=as_of).with_columns(
        parts.are_sums.alias("is_sum")
    )
    heed()
    money = price_offers(offers, market, rates)
    aside = rows_aside(fields, offers[QUANTITY], table.cells, export_map, market, where=where)
    fault = pl.DataFrame(
        {
            name: pl.select(
                pl.coalesce(
                    *(aside[name], parts.faults[name], too_long[name]),
                    *(major.faults[name], offers[name], money[name]),
                )
            ).to_series()
            for name in FAULT_COLUMNS
        }
    )
    heed()
    is_good = fault["fault_reason"].is_null()
    places = pl.DataFrame({"row_number": table.row_numbers}).with_columns(sheet=pl.lit(table.sheet))
    cells, masked_cells = mapped_cells(table.cells, export_map, where=where)
    quarantine = pl.concat(
        [
            places.filter(~is_good),
            fault.filter(~is_good).rename(lambda name: name.removeprefix("fault_")),
            cells.to_frame().filter(~is_good),
        ],
        how="horizontal",
    )
    good = Rows(
        fields.filter(is_good),
        offers.filter(is_good),
        money.filter(is_good),
        places.filter(is_good),
        corrections.filter(is_good) if corrections.width else corrections,
    )
    heed()
    read = (titles or TitleMemory(market)).read(pl.concat([good.fields["title"], good.fields["notes"]]))
    said = {
        field: without_corrected(look_up(good.fields[field], read), good.corrections)
        for field in ("title", "notes")
    }
    heed()
    texts = said_in_texts(said["title"], said["notes"], market)
    heed()
    staged, unread, taken = _stage(good, texts, export_map, market, as_of=as_of)
    heed()
    unread = pl.concat([unread, _of_places(apart, places, is_good)])
    free_text, _ = mask_contacts(staged.select(FREE_TEXT))
    faults, masked_lines = mask_contacts(table.faults.select("cells"))
    unread_texts, _ = mask_contacts(unread.select("value", "reason"))
    masked, _ = mask_contacts(quarantine.select("value", "reason"))
    heed()
    pairs, cells_of_pairs = each_pair(
        staged.with_columns(*free_text), cells.filter(is_good), good.offers[QUANTITY]
    )
    return Normalised(
        pairs,
        cells_of_pairs,
        _with_faults(quarantine.with_columns(*masked), table.sheet, table.faults.with_columns(*faults)),
        unread.with_columns(*unread_texts),
        masked_cells + masked_lines,
        good.offers.select(pl.sum_horizontal(pl.col("price_rounded", "ask_rounded").sum())).item(),
        taken,
        names_offered(good.fields["title"], staged["silhouette"], market),
        _reversals(
            offers.filter(fault["fault_field"] == UNDONE), places.filter(fault["fault_field"] == UNDONE)
        ),
    )


def _reversals(offers: pl.DataFrame, places: pl.DataFrame) -> pl.DataFrame:
    """Return the rows that undo a sale, with what their sale is known by."""
    title, _ = mask_contacts(offers.select("title"))
    stated = offers.select(
        "venue",
        *REFERENCES,
        "currency",
        kind="undoing",
        reversed_on="undone_on",
        amount="undone_amount",
        pairs=pl.col(QUANTITY).abs(),
    )
    return pl.concat([places, stated.with_columns(*title)], how="horizontal")


def _of_places(apart: pl.DataFrame, places: pl.DataFrame, is_good: pl.Series) -> pl.DataFrame:
    """Return the parts of cells that no field took (UNREAD) with the sheets and rows of staged rows."""
    numbered = places.with_row_index("place").filter(is_good)
    return numbered.join(apart, on="place", how="inner", maintain_order="left").select(
        "sheet", "row_number", "field", "value", "reason"
    )


def mapped_cells(cells: pl.DataFrame, export_map: ExportMap, *, where: str) -> tuple[pl.Series, Masked]:
    """Return each row's `cells`, and how many contact details were masked in them.

    A row's cells are a JSON object, heading → text, of the columns that the map reads. Contact details are masked
    but in references.
    """
    columns = {name: resolve_column(cells.columns, name, where=where) for name in mapped_columns(export_map)}
    read_as = {
        field: (headings,) if isinstance(headings, str) else headings
        for field, headings in export_map.columns.items()
    }
    references = {columns[name] for field in REFERENCES for name in read_as.get(field, ())}
    kept = cells.select(name for name in cells.columns if name in columns.values())
    texts, masked = mask_contacts(kept.select(name for name in kept.columns if name not in references))
    written = kept.with_columns(*texts).select(pl.struct(pl.all()).struct.json_encode().alias("cells"))
    return written.to_series(), masked


@dataclass(frozen=True)
class Rows:
    """The rows that can be records: their fields as text, offers, money, places and corrections, in one order."""

    fields: pl.DataFrame
    offers: pl.DataFrame
    money: pl.DataFrame
    places: pl.DataFrame
    corrections: pl.DataFrame


def _stage(
    rows: Rows, texts: pl.DataFrame, export_map: ExportMap, market: Market, *, as_of: date
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    stated = read_stated(
        rows.fields,
        market,
        list_mark=export_map.list_mark,
        words=export_map.words,
        titled=texts["silhouette"],
        fix_typos=market.words.fix_typos,
    )
    attributes = read_attributes(stated, texts, market)
    days = rows.offers.select(pl.coalesce("sold_on", "closed_on")).to_series()
    production = read_production(rows.fields, stated["era"], texts, days, market, as_of=as_of)
    labels = read_labels(
        rows.fields, texts, attributes["maker"], size_charts(market), system=export_map.size_system
    )
    together = pl.concat(
        [
            rows.places,
            rows.offers.drop(
                *FAULT_COLUMNS,
                "price_rounded",
                "ask_rounded",
                "undoing",
                "undone_on",
                "undone_amount",
                QUANTITY,
            ),
            rows.money.drop(FAULT_COLUMNS),
            attributes,
            production.rename({"flags": "production_flags"}),
            labels.rename({"flags": "label_flags"}),
            texts_disagree(texts, attributes, production).to_frame(),
        ],
        how="horizontal",
    )
    flags = flag_text(
        "production_flags",
        "label_flags",
        pl.when("rate_is_old").then(pl.lit("rate is old")),
        pl.when("is_sum").then(pl.lit(IN_PARTS)),
        pl.when("texts_disagree").then(pl.lit("title and notes disagree")),
    )
    listed = flag_lists(together.select(flags).to_series())
    flagged = settle_corrected(together.with_columns(flags=listed), rows.corrections).with_columns(
        pl.col("flags").list.set_intersection(list(HOLDING_FLAGS)).list.len().gt(0).alias("held_out")
    )
    staged = flagged.select(
        "sheet", "row_number", *(pl.col(name).cast(dtype) for name, dtype in staged_schema().items())
    )
    return staged, _unread(together, rows.fields), words_taken(stated, attributes, texts)


def _unread(together: pl.DataFrame, fields: pl.DataFrame) -> pl.DataFrame:
    """Return one row a stated cell that could not be read; for one that is empty, those of title or notes could not."""
    reasons = [name for name in together.columns if name.endswith("_unread")]
    schema = {
        "sheet": pl.String,
        "row_number": pl.Int64,
        "field": pl.String,
        "value": pl.String,
        "reason": pl.String,
    }
    parts = [pl.DataFrame(schema=schema)]
    for name in reasons:
        field = {"ask_unread": "ask_native"}.get(name, name.removesuffix("_unread"))
        missed = together[name].is_not_null()
        if missed.any():
            parts.append(
                together.filter(missed).select(
                    "sheet",
                    "row_number",
                    pl.lit(field).alias("field"),
                    pl.select(pl.coalesce(fields[field], fields["title"], fields["notes"]))
                    .to_series()
                    .filter(missed)
                    .alias("value"),
                    pl.col(name).alias("reason"),
                )
            )
    return pl.concat(parts)


def _with_faults(quarantine: pl.DataFrame, sheet: str, lines: pl.DataFrame) -> pl.DataFrame:
    """Return the quarantined rows with those that did not even split into cells."""
    columns = ["sheet", "row_number", "field", "value", "reason", "cells"]
    faults = lines.select(
        pl.lit(sheet).alias("sheet"),
        "row_number",
        pl.lit("(the row)").alias("field"),
        pl.lit(None, dtype=pl.String).alias("value"),
        "reason",
        "cells",
    )
    return pl.concat([quarantine.select(columns), faults.select(columns)])
