"""What was understood of exports, in sentences and tables: in full, and as the short account after each file."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

import polars as pl

from pipeline import __version__, formats
from pipeline.answers.sheet import NONE, Column, Sheet, Table, count, table, words
from pipeline.answers.understood.answer import (
    NOT_SOLD,
    FieldRead,
    MoneyRead,
    Oddity,
    RowRead,
    Understood,
)
from pipeline.schema import ORIGINS
from pipeline.untrusted import show_words

TITLES: dict[str, str] = {
    "sale_ref": "sale number",
    "lot_ref": "lot number",
    "stock_ref": "stock number",
    "offered_on": "first offered",
    "closed_on": "ended",
    "sold_on": "sold",
    "price_basis": "price counts",
    "price_native": "price",
    "ask_native": "asking price",
    "all_in_native": "all-in",
    "net_native": "net to the seller",
    "rate": "exchange rate",
    "rate_on": "rate of",
    "price_paid": "paid",
    "ask_price": "asking price, converted",
    "size_label": "size",
    "size_system": "size system",
    "foot_mm": "foot length, mm",
    "stamp_text": "stamp",
    "stamp_from": "made from",
    "stamp_to": "made until",
    "factory_code": "factory code",
    "production_year": "year made",
    "held_out": "kept out of the fit",
}
"""The fields whose names in a map are not what a dealer calls them."""

ORIGIN_TITLES: dict[str, str] = {"stated": "Stated", "title": "From title", "notes": "From notes"}
ATTRIBUTES: tuple[str, ...] = (
    *("silhouette", "colourway", "era", "size_label", "grade", "box", "tags", "overlay"),
    *("parts", "defects", "treatments"),
)
"""What a value rests on, in the order in which the account names it."""

USES: dict[str, str] = {
    "in the fit": "in the fit",
    "unsold": "not sold",
    "withdrawn": "withdrawn",
    "open": "still on offer",
    "no price or day": "without a price or a day",
    "no silhouette": "without a silhouette",
    "excluded pending review": "excluded until you decide (`pairband review`)",
    "another row of the same sale": "another row of a sale that is counted",
    "removed": "removed by you",
    "put aside": "put aside as no sale of one pair (`pairband quarantine`)",
    "quarantined": "quarantined (`pairband quarantine`)",
}
"""What becomes of rows, as an owner says it."""

KNOWN_OF_ROW: tuple[str, ...] = (
    *("status", "sold_on", "closed_on", "price_native", "price_paid", "silhouette", "colourway", "era"),
    *("size_label", "grade", "box", "tags", "overlay", "parts", "defects", "treatments", "flags"),
)
"""What is shown of a row as it was read."""

DAYS = ("offered_on", "closed_on", "sold_on")
AMOUNTS = ("price_native", "ask_native")
MOST_VALUES, MOST_ODD, MOST_LIKELY = 4, 3, 3
MOST_CELL, MOST_CELLS = 60, 600
HALF = 0.5


def understood_sheet(understood: Understood) -> Sheet:
    """Return the whole: every field, the money, odd values, rows beside their cells, what the fit leaves out."""
    return Sheet(
        title=f"What was read of {_what(understood)}",
        figures=(
            ("Rows read", formats.count(understood.rows)),
            ("Recorded", formats.count(understood.recorded)),
            ("Sales for the fit", formats.count(understood.uses.get("in the fit", 0))),
        ),
        sentences=() if understood.oddities else ("No odd value was found.",),
        tables=(
            _attributes_table(understood),
            _prices_table(understood),
            fields_table(understood).as_detail(),
            money_table(understood).as_detail(),
            replace(oddities_table(understood).marked(cut=("title",)), first=MOST_ODD),
            rows_table(understood).as_detail(),
            uses_table(understood).as_detail(),
            replace(likely_table(understood), first=MOST_LIKELY),
        ),
        source=f"From the ledger as it stands; pairband {__version__}.",
    )


def account_sheet(understood: Understood) -> Sheet:
    """Return the short account of one file: what is known, money, odd values, what the fit leaves out."""
    name = " ".join(map(_file_word, understood.files))
    return Sheet(
        title=f"{_what(understood)}: {formats.counted(understood.rows, 'row')}, "
        f"{formats.count(understood.recorded)} recorded",
        sentences=(
            *_known(understood),
            *money_sentences(understood),
            *odd_sentences(understood),
            *left_out_sentences(understood),
            f"`pairband understood {name}` shows all.",
        ),
    )


def _what(understood: Understood) -> str:
    files = understood.files
    return show_words(files[0], 80) if len(files) == 1 else formats.counted(len(files), "file")


def _file_word(name: str) -> str:
    return f'"{name}"' if " " in name else name


def field_title(field: str) -> str:
    """Return what a dealer calls a field."""
    return TITLES.get(field, field)


def share_text(rows: int, of: int) -> str:
    """Return a share of rows: 0 % and 100 % are said only where they are exact."""
    if not of:
        return NONE
    percent = 100 * rows / of
    if 0 < percent < 1:
        return "under\u00a01\u00a0%"
    if 99 < percent < 100:
        return "over\u00a099\u00a0%"
    return f"{percent:.0f}\u00a0%"


def _known(understood: Understood) -> Iterator[str]:
    fields = [understood.field(name) for name in ATTRIBUTES]
    shares = [(field, field.known / field.rows if field.rows else 0.0) for field in fields]
    groups = (
        ("Known", [field for field, share in shares if share >= HALF]),
        ("Mostly unknown", [field for field, share in shares if 0 < share < HALF]),
    )
    for name, of_group in groups:
        if of_group:
            said = ", ".join(
                f"{field_title(field.field)}\u00a0{share_text(field.known, field.rows)}" for field in of_group
            )
            yield f"{name}: {said}."
    nothing = [field_title(field.field) for field, share in shares if share == 0]
    if nothing and understood.recorded:
        yield f"Nothing said of: {', '.join(nothing)}."
    day = understood.field("closed_on")
    if isinstance(day.least, date) and isinstance(day.greatest, date):
        yield f"Days: {formats.day(day.least)} to {formats.day(day.greatest)}."


def money_sentences(understood: Understood) -> Iterator[str]:
    """Yield a sentence a currency: how many sold, for how much together, from what to what, and what did not sell."""
    for currency in dict.fromkeys(line.currency for line in understood.money):
        lines = [line for line in understood.money if line.currency == currency]
        others = ", ".join(
            f"{formats.count(line.rows)} {USES[line.status]}" for line in lines if line.status in NOT_SOLD
        )
        sold = next((line for line in lines if line.status == "sold" and line.priced), None)
        said = [_sold_words(sold, understood.base_currency)] if sold else []
        if parts := "; ".join([*said, *([others] if others else [])]):
            yield f"{currency or 'No currency'}: {parts}."


def _sold_words(sold: MoneyRead, base: str) -> str:
    currency = sold.currency or base
    total, least, greatest = (
        _money(value, currency) for value in (sold.stated_sum, sold.least, sold.greatest)
    )
    in_base = (
        "" if currency == base or sold.paid_sum is None else f", {_money(sold.paid_sum, base)} paid in all"
    )
    return f"{formats.count(sold.priced)} sold for {total} together ({least} to {greatest}){in_base}"


def _money(value: float | None, currency: str | None) -> str:
    if value is None:
        return NONE
    return formats.amount(value, currency) if currency else f"{value:,.0f}"


def odd_sentences(understood: Understood) -> Iterator[str]:
    """Yield the oddest values, of each kind the first before the second of any, and how many there are."""
    turns: dict[str, int] = {}
    placed = []
    for odd in understood.oddities:
        turns[odd.kind] = turns.get(odd.kind, 0) + 1
        placed.append((turns[odd.kind], odd))
    first = [odd for _, odd in sorted(placed, key=lambda pair: pair[0])][:MOST_ODD]
    for odd in first:
        yield f"Odd: row {odd.row_number}: {odd_words(odd, understood.base_currency)}."
    more = sum(understood.odd_rows.values()) - len(first)
    if more > 0:
        yield f"{formats.counted(more, 'more odd value')}."


def odd_words(odd: Oddity, currency: str) -> str:
    """Return what is odd about a value, in words."""
    value, beside = show_words(odd.value, MOST_CELL), show_words(odd.beside or "", MOST_CELL)
    if odd.kind == "price" and odd.times is not None:
        paid, usual = (formats.amount(float(text), currency) for text in (odd.value, odd.beside or "0"))
        times = f"{odd.times:,.0f} times" if odd.times > 1 else f"1/{1 / odd.times:,.0f} of"
        return f"{paid} paid, {times} the median of such pairs ({usual})"
    if odd.kind == "day":
        day, nearest = (
            formats.day(date.fromisoformat(text)) for text in (odd.value, odd.beside or odd.value)
        )
        return f"{day} is far from the other days (the nearest: {nearest})"
    if odd.kind == "unread":
        return f"{field_title(odd.field)} {value!r} could not be read: {beside}"
    if odd.kind == "size":
        return f"no other sale has the size {value}"
    return f"no other sale has the {_one(odd.field)} {value}"


def _one(field: str) -> str:
    return {"parts": "part", "defects": "defect", "treatments": "treatment"}.get(field, field)


def left_out_sentences(understood: Understood) -> Iterator[str]:
    """Yield what the fit leaves out, by reason, and the silhouette that titles without one look like."""
    reasons = ", ".join(f"{formats.count(rows)} {USES[use]}" for use, rows in understood.left_out.items())
    in_fit = formats.counted(understood.uses.get("in the fit", 0), "sale")
    yield f"For the fit: {in_fit}. Not in it: {reasons or 'none'}."
    for name in understood.likely[:MOST_LIKELY]:
        says = "1 title says" if name.rows == 1 else f"{formats.count(name.rows)} titles say"
        yield (
            f"{says} {show_words(name.written, MOST_CELL)!r}, which looks like {name.likely}: add it to its `phrases`."
        )


def fields_table(understood: Understood) -> Table:
    """Return one row a field that any row says: the share by origin, unknown, and its values or its range."""
    said = [field for field in understood.fields if field.known]
    origins = origins_of(said)
    missing = [field_title(field.field) for field in understood.fields if not field.known]
    currencies = len({line.currency for line in understood.money if line.priced or line.asked})
    return table(
        "fields",
        "What the rows say",
        (
            Column("field", "Field", field_title),
            *(Column(f"by {origin}", origin_title(origin), _part_text, number=True) for origin in origins),
            Column("unknown", "Unknown", _part_text, number=True),
            words("values", "Most frequent, or from least to greatest"),
        ),
        [
            {
                "field": field.field,
                "rows": field.rows,
                **{f"by {origin}": _part_of(field.origins.get(origin, 0), field.rows) for origin in origins},
                "unknown": _part_of(field.unknown, field.rows),
                "values": values_words(field, currencies),
            }
            for field in said
        ],
        note=f"Nothing says: {', '.join(missing)}." if missing else "",
    )


def _attributes_table(understood: Understood) -> Table:
    """Return the fields that a value rests on, without their values, in place of all fields."""
    fields = fields_table(understood)
    shown = (column.key for column in fields.columns if column.key != "values")
    return replace(
        fields.showing(*shown),
        key="attributes",
        title="What the rows say of what a value rests on",
        rows=fields.rows.filter(pl.col("field").is_in(ATTRIBUTES)),
        brief=True,
    )


def _prices_table(understood: Understood) -> Table:
    """Return the money of what sold, in place of all money."""
    money = money_table(understood)
    rows = money.rows.filter(pl.col("status") == "sold")
    return replace(money, key="prices", title="Prices by currency", rows=rows, note="", brief=True)


def origin_title(origin: str) -> str:
    """Return what a column of values from somewhere is called."""
    return ORIGIN_TITLES.get(origin, origin.capitalize())


def origins_of(fields: Iterable[FieldRead]) -> list[str]:
    """Return where the values of fields come from, the surest first."""
    found = dict.fromkeys(origin for field in fields for origin in field.origins)
    return [*(origin for origin in ORIGINS if origin in found), *(one for one in found if one not in ORIGINS)]


def _part_of(rows: int, of: int) -> float:
    return rows / of if of else 0.0


def _part_text(part: float) -> str:
    return NONE if part == 0 else share_text(round(part * 1_000_000), 1_000_000)


def values_words(field: FieldRead, currencies: int) -> str:
    """Return the most frequent values of a field with their rows, or its range; amounts of one currency only."""
    if field.field in AMOUNTS and currencies > 1:
        return f"in {currencies} currencies"
    if isinstance(field.least, date) and isinstance(field.greatest, date):
        return f"{formats.day(field.least)} to {formats.day(field.greatest)}"
    frequent = ", ".join(
        f"{show_words(_value(value), 40)} ({formats.count(rows)})"
        for value, rows in field.values[:MOST_VALUES]
    )
    more = len(field.values) - MOST_VALUES
    frequent += f" and {formats.count(more)} more" if more > 0 else ""
    if field.least is None or field.greatest is None:
        return frequent or NONE
    span = f"{field.least:,g} to {field.greatest:,g}"
    return f"{span}; {frequent}" if frequent else span


def _value(text: str) -> str:
    return text.removesuffix(".0")


def money_table(understood: Understood) -> Table:
    """Return one row a currency and status: the sum of prices, their range, and what was paid in the base."""
    base = understood.base_currency
    return table(
        "money",
        "Money by currency and status",
        (
            Column("status", "Currency and status", describe=_status_words),
            count("rows", "Rows"),
            _native("stated_sum", "Prices together"),
            _native("least", "Lowest"),
            _native("middle", "Median"),
            _native("greatest", "Highest"),
            Column("paid_sum", f"Paid in all, {base}", lambda value: _money(value, base), number=True),
        ),
        [vars(line) for line in understood.money],
        note="Prices are as the export states them; what was paid in all counts the buyer's premium.",
    )


def _status_words(row: Mapping[str, Any]) -> str:
    return f"{row['currency'] or 'no currency'}, {USES.get(row['status'], row['status'])}"


def _native(key: str, heading: str) -> Column:
    return Column(key, heading, number=True, describe=lambda row: _money(row[key], row["currency"]))


def oddities_table(understood: Understood) -> Table:
    """Return one row an odd value, and where it stands."""
    return table(
        "oddities",
        f"Odd values: {formats.count(sum(understood.odd_rows.values()))}",
        (
            words("place", "Row"),
            words("words", "What is odd"),
            Column("title", "Title", lambda title: show_words(title, 120)),
        ),
        [
            {
                **vars(odd),
                "place": place_words(odd, understood),
                "words": odd_words(odd, understood.base_currency),
            }
            for odd in understood.oddities
        ],
    )


def place_words(row: Oddity | RowRead, understood: Understood) -> str:
    """Return where a row stands: its file where there are several, its sheet where it has one."""
    file = row.file_name if len(understood.files) > 1 else ""
    return ", ".join(filter(None, (file, row.sheet, str(row.row_number))))


def rows_table(understood: Understood) -> Table:
    """Return the sample: each row as it was read, beside the cells that the export wrote."""
    return table(
        "rows",
        "Rows as they were read",
        (words("place", "Row"), words("cells", "The export says"), words("read", "Read as")),
        [
            {
                "place": place_words(row, understood),
                "cells": _joined(cells_of(row)),
                "read": _joined(read_of(row, understood.base_currency)),
            }
            for row in understood.sample
        ],
        note=""
        if all(row.cells is not None for row in understood.sample)
        else "The cells of a file that an earlier version read come with its next `pairband ingest`.",
    )


def _joined(named: list[tuple[str, str]]) -> str:
    return show_words("; ".join(f"{name}: {text}" for name, text in named), MOST_CELLS) or NONE


def cells_of(row: RowRead) -> list[tuple[str, str]]:
    """Return heading and text of the cells of a row that are not empty; nothing where they were not kept."""
    return [(show_words(name, 40), show_words(text, 200)) for name, text in (row.cells or {}).items()]


def read_of(row: RowRead, base: str) -> list[tuple[str, str]]:
    """Return name and value of what was read of a row; a value that no column states says where it is from."""
    known = {name: text for name in KNOWN_OF_ROW if (text := row.read.get(name)) not in (None, "none")}
    if known.get("sold_on") == known.get("closed_on"):
        known.pop("sold_on", None)
    return [(field_title(name), _read_text(name, text, row, base)) for name, text in known.items()]


def _read_text(name: str, text: str, row: RowRead, base: str) -> str:
    if name in DAYS:
        return formats.day(date.fromisoformat(text))
    if name == "price_native":
        basis = row.read.get("price_basis", "")
        return " ".join(filter(None, (_money(float(text), row.read.get("currency")), basis)))
    if name == "price_paid":
        return _money(float(text), base)
    origin = row.origins.get(name, "stated")
    source = "" if origin == "stated" else f" ({origin_title(origin)[0].lower()}{origin_title(origin)[1:]})"
    return show_words(text, 200) + source


def uses_table(understood: Understood) -> Table:
    """Return one row a reason why rows are not in the fit, and those that are."""
    return table(
        "uses",
        "For the fit",
        (
            Column("use", "What becomes of them", lambda use: USES.get(use, use).replace("`", "")),
            count("rows", "Rows"),
        ),
        [{"use": use, "rows": rows} for use, rows in understood.uses.items()],
        note="Of sales in the fit, an attribute that nothing says counts as unknown.",
    )


def likely_table(understood: Understood) -> Table:
    """Return one row a turn of words in titles without a silhouette, and the silhouette that it looks like."""
    return table(
        "likely",
        "Titles without a silhouette, and what they look like",
        (words("written", "Titles say"), words("likely", "Looks like"), count("rows", "Titles")),
        [vars(name) for name in understood.likely],
    )
