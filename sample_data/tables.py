"""Lay out each venue's export: its columns, its words, its way of writing, its faults."""

import polars as pl

from sample_data import faults, scenario
from sample_data.labels import german_amount, plain_amount, size_label, stamp_text, yen_text
from sample_data.pairs import Draws
from sample_data.sayings import leave_unsaid
from sample_data.scenario import COUNTER, HOLM, LANTERN, UMIKAZE
from sample_data.titles import write_titles

KEPT = ("offer", "status", "fault", "closed_on")
"""What every table carries besides the columns of the export, for the files and the counts."""

_FAULT = pl.col("fault")
_BAD_SIZE = _FAULT == faults.NO_SUCH_SIZE


def holm_table(offers: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Return Holm Sound's results: German words, decimal commas, attributes in the title alone."""
    lots = leave_unsaid(_number_lots(offers.filter(pl.col("venue") == HOLM)), HOLM, draws)
    lots = lots.with_columns(write_titles(lots, HOLM, draws))
    worded = pl.col("turn") < 3
    day = pl.col("closed_on").dt.strftime("%d.%m.%Y")
    return lots.with_columns(turn=pl.col("pair") % 10).select(
        *KEPT,
        pl.format("H{}", pl.col("sale_number").cast(pl.String).str.zfill(4)).alias("Auktion"),
        pl.col("lot_number").cast(pl.String).alias("Los"),
        pl.col("stock_ref").alias("Ihre Nr."),
        pl.format("E-{}", 1000 + pl.col("pair") * 7 % 613).alias("Einlieferer"),
        pl.col("title").alias("Bezeichnung"),
        _wrong_day(day, day.str.replace(r"^\d\d\.\d\d", "31.02")).alias("Datum"),
        german_amount(pl.col("ask_native")).alias("Schätzpreis ab"),
        german_amount(pl.col("high_native")).alias("Schätzpreis bis"),
        german_amount(faults.mistyped(pl.col("price_native"))).alias("Zuschlag"),
        _status("holm").alias("Ergebnis"),
        _wrong_size(size_label("EU"), "4,33").alias("Größe"),
        pl.coalesce(
            pl.when(worded).then(_grade_word(last=True)),
            pl.format("{}/10", _number("grade").str.replace(".", ",", literal=True)),
        ).alias("Zustand"),
        stamp_text("slashed").alias("Stempel"),
        pl.when(pl.col("re_offer_of").is_not_null())
        .then(pl.lit("erneut angeboten"))
        .when(pl.col("turn") == 7)
        .then(pl.lit("aus einer Sammlung"))
        .alias("Bemerkung"),
    )


def lantern_table(offers: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Return Lantern Dock's listings: ISO days, prices as paid, some attributes in columns."""
    listings = leave_unsaid(offers.filter(pl.col("venue") == LANTERN), LANTERN, draws)
    listings = listings.sort("offered_on", "offer").with_row_index("number")
    listings = listings.sort("closed_on", "offer", nulls_last=True)
    in_title = pl.Series(draws.random(len(listings)) < 0.15) & _grade_word().is_not_null()
    size = size_label("UK")
    listings = listings.with_columns(
        turn=pl.col("pair") % 10,
        in_title=in_title,
        title_grade=pl.when(in_title).then(_grade_word()),
        title_size=pl.when((pl.col("pair") % 3 == 0) & ~_BAD_SIZE).then(pl.format("UK {}", size)),
        title_stamp=pl.format("label {}", stamp_text("named")),
    )
    listings = listings.with_columns(write_titles(listings, LANTERN, draws))
    in_columns = pl.col("turn") != 4
    day = pl.col("closed_on").dt.strftime("%Y-%m-%d")
    return listings.select(
        *KEPT,
        item=(700_100_000 + pl.col("number") * 371).cast(pl.String),
        sku=pl.col("stock_ref"),
        title=pl.col("title"),
        brand=pl.when(in_columns).then("maker"),
        model=pl.when(in_columns).then("silhouette"),
        colour=pl.when(in_columns).then("colourway"),
        size=_wrong_size(pl.when(pl.col("turn") < 5).then(pl.format("UK {}", size)).otherwise(size), "UK 95"),
        condition=pl.when(~pl.col("in_title")).then(_number("grade")),
        box=_word("lantern", "box"),
        listed=pl.col("offered_on").dt.strftime("%Y-%m-%d"),
        ended=_wrong_day(day, day.str.replace(r"\d\d-\d\d$", "02-30")),
        state=_status("lantern"),
        asked=plain_amount(pl.col("ask_native")),
        paid=plain_amount(faults.mistyped(pl.col("price_native"))),
    )


def umikaze_table(offers: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Return Umikaze's results as cells of a workbook: numbers and days typed, but for a few.

    Columns ending in _text hold what stands in the cell instead of the typed value, where it is text.
    """
    lots = leave_unsaid(_number_lots(offers.filter(pl.col("venue") == UMIKAZE)), UMIKAZE, draws)
    lots = lots.with_columns(write_titles(lots, UMIKAZE, draws))
    worded = pl.col("turn") < 7
    price = faults.mistyped(pl.col("price_native"))
    typed_by_hand = (pl.col("turn") == 3) & (price > 0)
    return lots.with_columns(turn=pl.col("pair") % 10).select(
        *KEPT,
        pl.format("U{}", pl.col("sale_number").cast(pl.String).str.zfill(3)).alias("Sale"),
        pl.format("{}-{}", pl.lit("A"), pl.col("lot_number")).alias("Lot"),
        pl.col("stock_ref").alias("Your ref."),
        pl.col("title").alias("Description"),
        pl.when(_FAULT.is_null() | (_FAULT != faults.NO_SUCH_DAY)).then("closed_on").alias("Date"),
        pl.when(_FAULT == faults.NO_SUCH_DAY)
        .then(pl.col("closed_on").dt.strftime("%Y/02/30"))
        .alias("Date_text"),
        pl.when(_BAD_SIZE).then(pl.lit(2.75)).otherwise(size_label("JP").cast(pl.Float64)).alias("Size (cm)"),
        pl.when(worded).then(_grade_word()).alias("Condition_text"),
        pl.col("grade").alias("Condition"),
        _word("umikaze", "box").alias("Box"),
        stamp_text("packed").alias("Label"),
        pl.col("ask_native").alias("Low estimate"),
        pl.col("high_native").alias("High estimate"),
        price.alias("Hammer price"),
        pl.when(typed_by_hand).then(yen_text(price)).alias("Hammer price_text"),
        _status("umikaze").alias("Result"),
    )


def counter_table(offers: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Return the counter's log: the shop's own offers, and its deals elsewhere with what they cost in EUR."""
    own = pl.col("venue") == COUNTER
    logged = leave_unsaid(offers.filter(own | pl.col("logged_twice")), COUNTER, draws)
    logged = logged.with_columns(size=pl.format("UK {}", size_label("UK")))
    logged = logged.with_columns(write_titles(logged, COUNTER, draws))
    day = pl.col("closed_on").dt.strftime("%Y-%m-%d")
    in_euro = (pl.col("all_in_native") / pl.col("rate")).round(2, mode="half_away_from_zero")
    return logged.select(
        *KEPT,
        stock=pl.col("stock_ref"),
        where=pl.col("venue"),
        state=_status("counter"),
        shelved=pl.when(own).then(pl.col("offered_on").dt.strftime("%Y-%m-%d")),
        closed=_wrong_day(day, day.str.replace(r"\d\d-\d\d$", "13-05")),
        title=pl.col("title"),
        maker=pl.col("maker"),
        silhouette=pl.col("silhouette"),
        colourway=pl.col("colourway"),
        era=pl.col("era"),
        size=_wrong_size(pl.col("size"), "UK 90"),
        grade=pl.col("grade"),
        box=pl.col("box"),
        tags=pl.col("tags"),
        parts=pl.col("parts"),
        overlay=pl.col("overlay"),
        lasting=pl.col("lasting"),
        defects=pl.col("defects"),
        treatments=pl.col("treatments"),
        stamp=stamp_text("year first"),
        ask=pl.when(own).then(pl.col("ask_native").cast(pl.Float64)),
        paid=pl.when(own).then(faults.mistyped(pl.col("price_native")).cast(pl.Float64)).otherwise(in_euro),
    )


def _number_lots(lots: pl.DataFrame) -> pl.DataFrame:
    """Add sale_number (a house's sale days, counted) and lot_number (within the sale)."""
    return lots.sort("closed_on", "offer").with_columns(
        sale_number=pl.col("closed_on").rank("dense"),
        lot_number=pl.col("offer").cum_count().over("closed_on"),
    )


def _status(map_name: str) -> pl.Expr:
    """Return the venue's word for the row's status, by its map in the market file."""
    words = {status: word for word, status in scenario.market().maps[map_name].status_words.items()}
    return pl.col("status").replace_strict(words, return_dtype=pl.String)


def _word(map_name: str, field: str) -> pl.Expr:
    """Return the venue's word for a field's value, by its map in the market file."""
    words = {value: word for word, value in scenario.market().maps[map_name].words[field].items()}
    return pl.col(field).replace_strict(words, default=None, return_dtype=pl.String)


def _grade_word(*, last: bool = False) -> pl.Expr:
    """Return the trade word for the grade: the market file's first, or its last; null where it has none."""
    words: dict[float, str] = {}
    for word, grade in scenario.market().words.grades.items():
        words[grade] = word if last else words.get(grade, word)
    return pl.col("grade").replace_strict(words, default=None, return_dtype=pl.String)


def _number(column: str) -> pl.Expr:
    """Return a half-step number without a needless .0."""
    return pl.col(column).cast(pl.String).str.strip_suffix(".0")


def _wrong_day(day: pl.Expr, wrong: pl.Expr) -> pl.Expr:
    return pl.when(_FAULT == faults.NO_SUCH_DAY).then(wrong).otherwise(day)


def _wrong_size(label: pl.Expr, wrong: str) -> pl.Expr:
    return pl.when(_BAD_SIZE).then(pl.lit(wrong)).otherwise(label)
