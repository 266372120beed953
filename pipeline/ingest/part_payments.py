"""Deposits and balances: a deposit is no price, and a balance makes one with the deposit that it belongs to."""

from dataclasses import dataclass
from datetime import date
from functools import cache

import polars as pl

from pipeline.alike import fold
from pipeline.config import ExportMap, Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.faults import FAULT_COLUMNS, no_faults
from pipeline.ingest.fields import TAX
from pipeline.ingest.lookup import look_up
from pipeline.ingest.offers import read_offers, status_words
from pipeline.ingest.status_words import PART_WORDS
from pipeline.schema import PARTS, QUANTITY

PART_PAYMENT = "(part payment)"
"""What stands for the field of a row that is put aside because it is a part of a price."""

IN_PARTS = "deposit added"
"""The flag of a sale whose price is the sum of a deposit and a balance."""

_REFERENCES = ("sale_ref", "lot_ref", "stock_ref")
_UNCLEAR = ("balance", "solde", "saldo", "señal", "seña", "sinal", "anticipo", "手付", "前金")
"""Words that mean more than a part of a price: in a title they must be set off from the rest."""

_OPEN, _CLOSE = r"[(\[\x{ff08}\x{3010}]", r"[)\]\x{ff09}\x{3011}]"
_FOR = "(?:for|on|für|auf|zu|pour|sur|per|su|para|por|voor|op|na|za|för|på|til|till)"
_SCHEMA = {"row": pl.UInt32, "balance": pl.UInt32}


@dataclass(frozen=True)
class PartPayments:
    """The rows of a table that pay a part of a price.

    fields
        The fields of the table; a balance that makes a price with its deposits has their sum, and is sold.
    faults
        FAULT_COLUMNS of the rows that are put aside, nulls for all others, in order.
    are_sums
        Whether each row is such a balance.
    """

    fields: pl.DataFrame
    faults: pl.DataFrame
    are_sums: pl.Series


def read_part_payments(
    fields: pl.DataFrame, export_map: ExportMap, market: Market, own: pl.DataFrame, *, as_of: date
) -> PartPayments:
    """Find the deposits and balances among rows, and add up those that belong together.

    They do where they share a number of the export (order, lot or stock), venue and title; where the sum is of one
    currency, one balance and none before its deposit; and where no other row has the whole price.
    """
    if export_map.holds != "sales":
        return _none(fields)
    kinds = _kinds(fields, export_map)
    if kinds["part"].null_count() == fields.height:
        return _none(fields)
    rows = _amounts(fields, kinds, export_map, market, own, as_of=as_of)
    links = _links(rows.filter(part="deposit"), rows.filter(part="balance"))
    whole = _links(
        rows.filter(pl.col("part").is_not_null()), rows.filter(pl.col("part").is_null(), is_sold=True)
    )
    states = _states(rows.filter(pl.col("part").is_not_null()), links, whole)
    sums = states.filter(pl.col("total").is_not_null())
    return _settled(fields, states, sums, export_map)


def known_balances(fields: pl.DataFrame, export_map: ExportMap, are_sums: pl.Series) -> PartPayments:
    """Return rows that are read again: those of balances to which their deposits were added are sold."""
    sold = pl.when(are_sums).then(pl.lit("sold")).otherwise("status").alias("status")
    known = fields.with_columns(sold) if "status" in export_map.columns else fields
    return PartPayments(known, _none(fields).faults, are_sums)


def _none(fields: pl.DataFrame) -> PartPayments:
    return PartPayments(
        fields,
        no_faults(fields.height),
        pl.repeat(value=False, n=fields.height, dtype=pl.Boolean, eager=True),
    )


def _kinds(fields: pl.DataFrame, export_map: ExportMap) -> pl.DataFrame:
    """Return part ("deposit", "balance" or null), word (that says so) and rest (the title without it), row by row."""
    statuses = distinct_texts(fields["status"], "text").with_columns(
        part=fold(pl.col("text")).replace_strict(_words_of(export_map), default=None, return_dtype=pl.String)
    )
    by_status = look_up(fields["status"], statuses)["part"]
    of_titles = _parts_of_titles(fields["title"])
    if of_titles.is_empty() and by_status.null_count() == by_status.len():
        return pl.DataFrame(schema=dict.fromkeys(("part", "word", "rest"), pl.String)).clear(fields.height)
    titles = look_up(fields["title"], of_titles)
    return pl.DataFrame(
        {
            "by_status": by_status,
            "status": fields["status"],
            "title": fields["title"],
            "by_title": titles["part"],
            "rest": titles["rest"],
            "said": titles["word"],
        }
    ).select(
        part=pl.coalesce("by_title", "by_status"),
        word=pl.when(pl.col("by_title").is_null()).then("status").otherwise("said"),
        rest=fold(pl.coalesce("rest", "title")),
    )


def _words_of(export_map: ExportMap) -> dict[str, str]:
    return {word: says for word, says in status_words(export_map).items() if says in PARTS}


def _parts_of_titles(titles: pl.Series) -> pl.DataFrame:
    """Return title, part, word and rest of the distinct titles that begin or end with a word set off from the rest."""
    perhaps = pl.col("title").str.contains_any(list(_needles()), ascii_case_insensitive=True)
    distinct = distinct_texts(titles, "title").filter(perhaps)
    schema = dict.fromkeys(("title", "part", "word", "rest"), pl.String)
    found = [pl.DataFrame(schema=schema)]
    for part in PARTS:
        before, plain, after = _patterns(part)
        title = pl.col("title")
        rest = pl.coalesce(
            title.str.extract(before, 2), title.str.extract(plain, 2), title.str.extract(after, 1)
        )
        word = pl.coalesce(
            title.str.extract(before, 1), title.str.extract(plain, 1), title.str.extract(after, 2)
        )
        found.append(
            distinct.select("title", part=pl.lit(part), word=word, rest=rest).filter(
                pl.col("rest").is_not_null()
            )
        )
    return pl.concat(found).unique("title", keep="first", maintain_order=True)


@cache
def _needles() -> tuple[str, ...]:
    """Return the words for a part of a price in each case; plain letters, of which either case is found, in one."""
    words = [word for part in PARTS for word in PART_WORDS[part]]
    forms = (form for word in words for form in (word, word.capitalize(), word.upper()))
    return tuple({form.encode().lower().decode() for form in forms})


@cache
def _patterns(part: str) -> tuple[str, str, str]:
    """Return the patterns of a title that begins with a word for a part of a price, set off or not, or ends with it."""
    words = sorted(PART_WORDS[part], key=lambda word: (-len(word), word))
    any_word = "|".join(words)
    clear = "|".join(word for word in words if word not in _UNCLEAR)
    set_off = rf"(?:{_CLOSE}|[:\x{{ff1a}}]|\s[-\x{{2013}}\x{{2014}}/|]\s|\s{_FOR}\s)"
    before = rf"(?i)^\s*{_OPEN}?\s*({any_word})\s*{set_off}\s*(.*\S)\s*$"
    plain = rf"(?i)^\s*({clear})\s+(.*\S)\s*$"
    after = rf"(?i)^(.*\S)\s*(?:{_OPEN}|[:\x{{ff1a}},]|\s[-\x{{2013}}\x{{2014}}/|]\s)\s*({any_word})\s*{_CLOSE}?\s*$"
    return before, plain, after


def _amounts(
    fields: pl.DataFrame,
    kinds: pl.DataFrame,
    export_map: ExportMap,
    market: Market,
    own: pl.DataFrame,
    *,
    as_of: date,
) -> pl.DataFrame:
    """Return what part payments, and the rows that share a number with one, come to: row, part, word, rest, amounts."""
    is_part = kinds["part"].is_not_null()
    shares = is_part
    for name in _REFERENCES:
        numbers = fields[name].filter(is_part).drop_nulls().unique()
        shares = shares | fields[name].is_in(numbers.implode()).fill_null(value=False)
    sold = pl.when(pl.lit(is_part.filter(shares))).then(pl.lit("sold")).otherwise("status").alias("status")
    one = pl.lit(None, dtype=pl.String).alias(QUANTITY)
    plain = export_map.model_copy(update={"quantity_price": None, "columns": _without_quantity(export_map)})
    offers = read_offers(
        fields.filter(shares).with_columns(sold, one), plain, market, own.filter(shares), as_of=as_of
    )
    stated = offers.select(
        "venue",
        *_REFERENCES,
        "currency",
        day="sold_on",
        price="price_native",
        tax="tax_native",
        ask="ask_native",
        is_sold=(pl.col("status") == "sold")
        & pl.col("fault_reason").is_null()
        & (pl.col("price_native") > 0),
    )
    places = pl.DataFrame({"row": pl.int_range(fields.height, eager=True).cast(pl.UInt32)}).filter(shares)
    return pl.concat([places, kinds.filter(shares), stated], how="horizontal")


def _without_quantity(export_map: ExportMap) -> dict[str, object]:
    return {field: headings for field, headings in export_map.columns.items() if field != QUANTITY}


def _links(one: pl.DataFrame, other: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs of rows (row, balance) of one venue and title that share a number of the export."""
    found = [pl.DataFrame(schema=_SCHEMA)]
    for name in _REFERENCES:
        keys = ["venue", "rest", name]
        left, right = (frame.drop_nulls(["venue", name]) for frame in (one, other))
        found.append(
            left.join(right, on=keys, suffix="_other", nulls_equal=True).select("row", balance="row_other")
        )
    return pl.concat(found).unique(maintain_order=True).sort("row", "balance")


def _states(parts: pl.DataFrame, links: pl.DataFrame, whole: pl.DataFrame) -> pl.DataFrame:
    """Return row, part, word, reason (null where the row is a sale), and of those total and tax, one row a part."""
    known = parts.select("row", "currency", "day", "price", "tax", "ask", "is_sold")
    pairs = (
        links.join(known, on="row", maintain_order="left")
        .join(known, left_on="balance", right_on="row", suffix="_other", maintain_order="left")
        .with_columns(alone=pl.len().over("row") == 1)
    )
    fits = (
        pl.col("alone")
        & pl.col("is_sold")
        & pl.col("is_sold_other")
        & (pl.col("currency") == pl.col("currency_other"))
        & (pl.col("day") <= pl.col("day_other")).fill_null(value=False)
        & ~(pl.col("price_other") == pl.col("ask_other")).fill_null(value=False)
    )
    sums = pairs.group_by("balance", maintain_order=True).agg(
        fits=fits.all(),
        total=pl.col("price").sum() + pl.col("price_other").first(),
        tax=pl.col("tax").sum() + pl.col("tax_other").first(),
    )
    of_deposits = (
        links.join(sums, on="balance").select("row", "fits").group_by("row").agg(pl.col("fits").all())
    )
    fitting = pl.concat([of_deposits, sums.select(pl.col("balance").alias("row"), "fits")])
    covered = pl.concat(
        [
            whole["row"],
            links.filter(pl.col("balance").is_in(whole["row"].implode()))["row"],
            links.filter(pl.col("row").is_in(whole["row"].implode()))["balance"],
        ]
    )
    beside = (
        parts.select("row", "part", "word", in_whole=pl.col("row").is_in(covered.implode()))
        .join(fitting, on="row", how="left", maintain_order="left")
        .join(
            sums.select("balance", "total", "tax"),
            left_on="row",
            right_on="balance",
            how="left",
            maintain_order="left",
        )
    )
    makes_sale = pl.col("fits").fill_null(value=False) & pl.col("total").is_not_null() & ~pl.col("in_whole")
    return beside.select(
        "row",
        "part",
        "word",
        pl.when(~makes_sale).then(_reason()).alias("reason"),
        pl.when(makes_sale).then("total").alias("total"),
        pl.when(makes_sale).then("tax").alias("tax"),
    )


def _reason() -> pl.Expr:
    """Return why a part of a price is put aside."""
    fits = pl.col("fits")
    beside = (
        pl.when("in_whole")
        .then(pl.lit("another row has the whole price"))
        .when(fits.is_null() & (pl.col("part") == "deposit"))
        .then(pl.lit("no balance of its number and title is in the file"))
        .when(fits.is_null())
        .then(pl.lit("no deposit of its number and title is in the file"))
        .when(~fits)
        .then(pl.lit("the deposit and the balance of its number do not add up to one price"))
        .otherwise(pl.lit("its balance is in the file, and the two are one sale"))
    )
    what = pl.when(pl.col("part") == "deposit").then(pl.lit("a deposit")).otherwise(pl.lit("a balance"))
    return pl.format("{}, not a price: {}", what, beside)


def _settled(
    fields: pl.DataFrame, states: pl.DataFrame, sums: pl.DataFrame, export_map: ExportMap
) -> PartPayments:
    rows = pl.DataFrame({"row": pl.int_range(fields.height, eager=True).cast(pl.UInt32)})
    beside = rows.join(states, on="row", how="left", maintain_order="left")
    is_sum = beside["total"].is_not_null()
    aside = beside["reason"].is_not_null()
    faults = beside.select(
        pl.when(aside).then(pl.lit(PART_PAYMENT)).alias(FAULT_COLUMNS[0]),
        pl.when(aside).then("word").alias(FAULT_COLUMNS[1]),
        pl.col("reason").alias(FAULT_COLUMNS[2]),
    )
    if sums.is_empty():
        return PartPayments(fields, faults, is_sum)
    mark = "," if export_map.decimal_mark == "," else "."
    added = [
        pl.when(is_sum).then(_written(beside[name], mark)).otherwise(field).alias(field)
        for field, name in (("price_native", "total"), (TAX, "tax"))
        if field != TAX or export_map.tax_column is not None
    ]
    if "status" in export_map.columns:
        added.append(pl.when(is_sum).then(pl.lit("sold")).otherwise("status").alias("status"))
    return PartPayments(fields.with_columns(added), faults, is_sum)


def _written(amounts: pl.Series, mark: str) -> pl.Series:
    """Return amounts as text with a decimal mark."""
    return amounts.cast(pl.String).str.replace(".", mark, literal=True)
