"""The offer of a row: where, when, how it ended, and for what, or why it cannot be read."""

from datetime import date

import polars as pl

from pipeline.alike import fold_keys
from pipeline.config import ExportMap, Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.dates import read_dates
from pipeline.ingest.faults import FAULT_COLUMNS, Fault, text, with_first_fault
from pipeline.ingest.fields import TAX
from pipeline.ingest.lookup import look_up
from pipeline.ingest.names import allowed_words, read_names
from pipeline.ingest.numbers import AMOUNT, FINER, low_end, read_amounts, to_minor_unit
from pipeline.ingest.quantity import read_quantities
from pipeline.ingest.status_words import PART_WORDS
from pipeline.schema import ENDINGS, PARTS, QUANTITY, UNDOINGS

_PERHAPS_A_RANGE = r"\d.*[-/\u{2010}-\u{2015}\u{2212}].*\d"
_DAYS = ("offered_on", "closed_on", "sold_on")
UNDONE = "(undone sale)"
"""What stands for the field of a row that undoes a sale."""

_PAID_BACK = ("returned", "refunded")
_RATE = pl.Decimal(8, 6)
_PRODUCT = pl.Decimal(38, 10)
"""What a price of four decimals times a rate of six comes to, exactly."""


def read_offers(
    fields: pl.DataFrame, export_map: ExportMap, market: Market, own: pl.DataFrame, *, as_of: date
) -> pl.DataFrame:
    """Return one row a row of `fields` (all String, one column a source field), in order.

    `own` is what the owner says of prices (see `own_prices`): such a price is that of one pair, and counts the same as
    the export's, so that a tax that stands in a column of its own follows it in proportion, unless the owner says that
    it is all that the buyer paid.

    Columns: venue, sale_ref, lot_ref, stock_ref, title, notes, status, offered_on, closed_on, sold_on,
    currency, price_basis, price_native, ask_native; tax_native (of a sale, the tax that its price is without and
    its buyer paid) and ask_tax_native; ask_unread String (why a stated asking price could not
    be read); price_rounded and ask_rounded Boolean (it had more than four decimals and was rounded to the
    currency's minor unit); and fault_field, fault_value, fault_reason (null where the row can be a record). A
    map without a status column says that every priced row is a sale and every other one is not, unless the owner has
    corrected how it ended. For lots and
    stock, where nothing has been sold, status is "open". Of a row that undoes a sale, undoing String says how (one of
    UNDOINGS), undone_on when, and undone_amount what the buyer got back, null where that is all; its fault_field is
    UNDONE. quantity Int64 is how many pairs of one kind the row is of, null where it does not say; its price is
    then that of one.
    """
    read = pl.concat([_read_cells(fields, export_map, market), own], how="horizontal")
    first_day = date(min(era.first_year for era in market.eras), 1, 1)
    status = _status(export_map)
    day = pl.coalesce(pl.col("sold_on_day"), pl.col("closed_on_day"))
    is_sold = status == "sold"
    currency = pl.coalesce(
        "currency_stated", "price_currency", "ask_currency", pl.lit(usual_currency(export_map, market))
    )
    settled = read.with_columns(
        status.alias("status_read"),
        day.alias("day"),
        is_sold.alias("is_sold"),
        currency.alias("currency_read"),
    )
    rounded = settled.with_columns(
        pl.when(pl.col(f"{name}_finer").is_null())
        .then(f"{name}_amount")
        .otherwise(to_minor_unit(pl.col(f"{name}_finer"), pl.col("currency_read")))
        .alias(f"{name}_amount")
        for name in ("price", "ask")
        if settled[f"{name}_finer"].count()
    )
    pairs = pl.lit(1) if export_map.quantity_price == "line" else pl.max_horizontal(pl.col(QUANTITY).abs(), 1)
    undone = pl.when(pl.col("price_amount") != 0).then((pl.col("price_amount").abs() * pairs).cast(AMOUNT))
    settled = rounded.with_columns(_undoing(export_map).alias("undoing"), undone.alias("undone_price"))
    if export_map.quantity_price == "line":
        settled = settled.with_columns(_of_one_pair("price"), _of_one_pair("tax"))
    if export_map.tax_column is not None and own["price_is_own"].any():
        settled = _with_tax_in_proportion(settled, export_map, market)
    return with_first_fault(settled, _faults(export_map, as_of, first_day)).select(
        pl.col("venue_read").alias("venue"),
        "sale_ref",
        "lot_ref",
        "stock_ref",
        "title",
        "notes",
        pl.col("status_read").alias("status"),
        pl.col("offered_on_day").alias("offered_on"),
        pl.when("is_sold").then("day").otherwise("closed_on_day").alias("closed_on"),
        pl.when("is_sold").then("day").alias("sold_on"),
        pl.col("currency_read").alias("currency"),
        pl.when(pl.col("price_amount").is_not_null())
        .then(pl.coalesce("own_basis", pl.lit(export_map.price_basis, dtype=pl.String)))
        .alias("price_basis"),
        pl.when(pl.col("is_sold") | (pl.col("price_amount") > 0)).then("price_amount").alias("price_native"),
        pl.when(pl.col("ask_amount") > 0).then("ask_amount").alias("ask_native"),
        _tax(export_map, "price").alias("tax_native"),
        _tax(export_map, "ask").alias("ask_tax_native"),
        pl.when(pl.col("ask_reason").is_not_null())
        .then("ask_reason")
        .when(pl.col("ask_amount") < 0)
        .then(pl.lit("below zero"))
        .alias("ask_unread"),
        *(pl.col(f"{name}_finer").is_not_null().alias(f"{name}_rounded") for name in ("price", "ask")),
        "undoing",
        pl.coalesce("day", "offered_on_day").alias("undone_on"),
        pl.when(pl.col("undoing").is_in(_PAID_BACK)).then("undone_price").alias("undone_amount"),
        QUANTITY,
        *FAULT_COLUMNS,
    )


def _of_one_pair(name: str) -> pl.Expr:
    """Return an amount of a line as that of one of its pairs."""
    amount, count = pl.col(f"{name}_amount"), pl.col(QUANTITY)
    share = (amount.cast(pl.Float64) / count).round(9).cast(FINER)
    is_of_line = count > 1
    if name == "price":
        is_of_line = is_of_line & ~pl.col("price_is_own")
    return (
        pl.when(is_of_line)
        .then(to_minor_unit(share, pl.col("currency_read")))
        .otherwise(amount)
        .alias(f"{name}_amount")
    )


def _with_tax_in_proportion(offers: pl.DataFrame, export_map: ExportMap, market: Market) -> pl.DataFrame:
    """Return offers in which the tax on an owner's price is the same share of it as of the price that was written."""
    usual = usual_currency(export_map, market)
    read = read_amounts(offers["price_written"], decimal_mark=export_map.decimal_mark, currency=usual)
    written = look_up(offers["price_written"], read)["amount"].cast(pl.Float64).abs()
    if export_map.quantity_price == "line":
        written = written / pl.select(pl.max_horizontal(offers[QUANTITY].fill_null(1), 1)).to_series()
    in_proportion = pl.col("tax_amount").cast(pl.Float64) * pl.col("price_amount").cast(pl.Float64) / written
    return offers.with_columns(
        pl.when("price_is_own", pl.lit(written) > 0)
        .then(to_minor_unit(in_proportion.round(9).cast(FINER), pl.col("currency_read")))
        .otherwise("tax_amount")
        .alias("tax_amount")
    )


def _undoing(export_map: ExportMap) -> pl.Expr:
    """Return how a row undoes a sale: by its word, or by an amount below zero that was sold or taken back; else null.

    An owner's "withdrawn" may be their word for a return, but no offer that was merely withdrawn has such an amount.
    """
    taken_back = pl.col("is_sold") | (pl.col("status_read") == "withdrawn")
    if "status" not in export_map.columns:
        taken_back = pl.lit(value=True)
    return (
        pl.when(pl.col("status_read").is_in(UNDOINGS))
        .then("status_read")
        .when(pl.col(QUANTITY) < 0)
        .then(pl.lit("returned"))
        .when((pl.col("price_amount") < 0) & taken_back & pl.lit(export_map.holds == "sales"))
        .then(pl.lit("refunded"))
    )


def _read_cells(fields: pl.DataFrame, export_map: ExportMap, market: Market) -> pl.DataFrame:
    """Return the fields with what was read from the cells of venue, status, days, amounts, currency beside them."""
    parts = [fields]
    for field in _DAYS:
        days = read_dates(fields[field], order=export_map.date_order, language=export_map.language)
        parts.append(look_up(fields[field], days).select(pl.all().name.prefix(f"{field}_")))
    for field, name in (("price_native", "price"), ("ask_native", "ask"), (TAX, "tax")):
        asked = low_ends(fields[field]) if name == "ask" else fields[field]
        amounts = read_amounts(
            asked, decimal_mark=export_map.decimal_mark, currency=usual_currency(export_map, market)
        )
        parts.append(look_up(asked, amounts).select(pl.all().name.prefix(f"{name}_")))
    parts[0] = fields.rename({QUANTITY: "quantity_text"})
    counts = read_quantities(fields[QUANTITY] if QUANTITY in export_map.columns else fields[QUANTITY].clear())
    parts.append(look_up(fields[QUANTITY], counts))
    venues = read_names(fields["venue"], allowed_words(venue.name for venue in market.venues))
    parts.append(look_up(fields["venue"], venues).select(pl.col("value").alias("venue_stated")))
    parts.append(look_up(fields["currency"], read_currencies(fields["currency"])))
    words = status_words(export_map)
    statuses = read_names(fields["status"], words)
    parts.append(look_up(fields["status"], statuses).select(pl.col("value").alias("status_stated")))
    return pl.concat(parts, how="horizontal").with_columns(
        pl.when(pl.col("venue").is_null())
        .then(pl.lit(export_map.venue))
        .otherwise("venue_stated")
        .alias("venue_read")
    )


def low_ends(texts: pl.Series) -> pl.Series:
    """Return asking prices with the lower of the two amounts of an estimate that is written as a range."""
    maybe = texts.filter(texts.str.contains(_PERHAPS_A_RANGE))
    cells = distinct_texts(maybe, "text").with_columns(low=low_end(pl.col("text")))
    ranges = cells.filter(pl.col("low") != pl.col("text"))
    if ranges.is_empty():
        return texts
    return texts.replace(ranges["text"], ranges["low"])


def read_currencies(texts: pl.Series) -> pl.DataFrame:
    """Return text, currency_stated, currency_reason: a currency column holds a code, a sign or a name."""
    cells = distinct_texts(texts, "text")
    amounts = read_amounts(cells.select(pl.lit("1 ") + pl.col("text")).to_series(), decimal_mark=".")
    return (
        cells.with_columns((pl.lit("1 ") + pl.col("text")).alias("amount_text"))
        .join(amounts, left_on="amount_text", right_on="text", how="left")
        .select("text", pl.col("currency").alias("currency_stated"))
    )


def _tax(export_map: ExportMap, name: str) -> pl.Expr:
    """Return the tax on the price or the ask; null where the map says of none. An empty cell of tax adds nothing.

    A column of tax is that of the price; a rate holds for an asking price that counts the same as the price. Where the
    owner says what the price counts, and that is all that the buyer paid, nothing is added.
    """
    is_whole = (
        (pl.col("own_basis") == "all-in").fill_null(value=False) if name == "price" else pl.lit(value=False)
    )
    if export_map.tax_column is not None and name == "price":
        return pl.when(pl.col("is_sold") & ~is_whole).then(pl.col("tax_amount").abs().fill_null(0))
    if export_map.tax_rate is None or (name == "ask" and export_map.price_basis != "all-in"):
        return pl.lit(None, dtype=AMOUNT)
    amount = pl.col(f"{name}_amount").cast(_PRODUCT) * pl.lit(export_map.tax_rate).cast(_RATE)
    return pl.when(~is_whole).then(to_minor_unit(amount.cast(FINER), pl.col("currency_read")))


def usual_currency(export_map: ExportMap, market: Market) -> str:
    """Return the currency of a cell that names none."""
    return export_map.currency or market.venue(export_map.venue).currency


def status_words(export_map: ExportMap) -> dict[str, str]:
    """Return folded word → what it says of how an offer ended (ENDINGS); the words of the map go before others."""
    parts = {word: part for part, words in PART_WORDS.items() for word in words}
    return fold_keys(parts) | allowed_words(ENDINGS) | fold_keys(dict(export_map.status_words))


def _status(export_map: ExportMap) -> pl.Expr:
    if export_map.holds != "sales":
        return pl.lit("open")
    if "status" in export_map.columns:
        return pl.col("status_stated")
    by_price = pl.when(pl.col("price_amount") > 0).then(pl.lit("sold")).otherwise(pl.lit("unsold"))
    return pl.when(pl.col("status").is_null()).then(by_price).otherwise("status_stated")


def _faults(export_map: ExportMap, as_of: date, first_day: date) -> list[Fault]:
    """Return, in order of weight, what makes a row no sale record."""
    sold = pl.col("is_sold")
    price, amount = pl.col("price_native"), pl.col("price_amount")
    faults = [
        Fault("venue", pl.col("venue_read").is_null(), pl.col("venue"),
              text("no venue of the market file has this name")),
        Fault("status", pl.col("status_read").is_null() & pl.col("status").is_null(), pl.col("status"),
              text("the row does not say how the offer ended")),
        Fault("status", pl.col("status_read").is_null(), pl.col("status"),
              text("no word of `status_words` in the export map")),
        Fault("status", pl.col("status_read").is_in(PARTS), pl.col("status"), text("a part of a price is no sale")),
    ]  # fmt: skip
    faults += [
        Fault(field, pl.col(f"{field}_reason").is_not_null(), pl.col(field), pl.col(f"{field}_reason"))
        for field in _DAYS
    ]
    if export_map.holds == "sales":
        faults += [
            Fault(QUANTITY, pl.col("quantity_reason").is_not_null(), pl.col("quantity_text"),
                  pl.col("quantity_reason")),
            Fault(UNDONE, pl.col("undoing").is_not_null(), pl.coalesce("status", "price_native"), pl.col("undoing")),
            Fault("sold_on", sold & pl.col("day").is_null(), pl.lit(None), text("sold, but on no day")),
            Fault("sold_on", sold & (pl.col("day") > as_of), pl.col("day"),
                  text(f"sold on a day that is still to come (it is {as_of})")),
            Fault("closed_on", pl.col("day") < first_day, pl.col("day"),
                  text(f"a day before the first era begins ({first_day.year})")),
            Fault("offered_on", pl.col("offered_on_day") > pl.col("day"), pl.col("offered_on"),
                  text("offered on a day after the offer had ended")),
        ]  # fmt: skip
    faults += [
        Fault("price_native", pl.col("price_reason").is_not_null(), price, pl.col("price_reason")),
        Fault("price_native", amount < 0, price, text("a price below zero")),
        Fault("price_native", sold & amount.is_null(), price, text("sold, but without a price")),
        Fault("price_native", sold & pl.col("tax_reason").is_not_null(), pl.col(TAX),
              pl.format("the tax on it cannot be read: {}", "tax_reason")),
        Fault("price_native", sold & (pl.col("tax_currency") != pl.col("currency_read")), pl.col(TAX),
              text("the tax on it names another currency")),
        Fault("price_native", sold & (amount == 0), price, text("sold for zero")),
        Fault("currency", pl.col("currency").is_not_null() & pl.col("currency_stated").is_null(),
              pl.col("currency"), text("not a currency that is known")),
        Fault("price_native", pl.col("price_currency") != pl.col("currency_stated"), price,
              text("the price names another currency than the currency column")),
    ]  # fmt: skip
    return faults
