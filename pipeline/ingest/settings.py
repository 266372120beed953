"""How an export is written, as far as its whole columns tell: the keys of an export map, or questions."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import polars as pl
from babel.numbers import list_currencies

from pipeline.alike import find_alike
from pipeline.config import Market, Venue
from pipeline.ingest.account import Account
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.column_choice import ColumnChoice
from pipeline.ingest.combined import split_cells
from pipeline.ingest.dates import decide_date_order, language_of_days, read_dates
from pipeline.ingest.header_words import SIZE_SYSTEM_WORDS
from pipeline.ingest.heading_meaning import meanings, says_any, says_minor_units, spellings, written
from pipeline.ingest.lookup import look_up
from pipeline.ingest.numbers import currency_precisions, decide_decimal_mark, read_amounts
from pipeline.ingest.offers import read_currencies
from pipeline.ingest.rates import ecb_rates
from pipeline.ingest.readers import TextTable
from pipeline.ingest.readers.encoding import ASCII
from pipeline.ingest.sizes import read_sizes
from pipeline.schema import PRICE_BASES, SIZE_SYSTEMS

LANGUAGES = (
    *("en", "de", "fr", "it", "es", "nl", "pt", "pl", "sv", "da", "nb", "fi", "cs", "ja"),
    *(
        "hu",
        "ro",
        "tr",
        "el",
        "hr",
        "sk",
        "sl",
        "sr",
        "sr_Latn",
        "mk",
        "bg",
        "ru",
        "uk",
        "lt",
        "lv",
        "et",
        "is",
    ),
    *("ca", "eu", "gl", "af", "sq", "he", "ar", "fa", "hi", "th", "vi", "id", "ka", "hy", "az", "kk", "uz"),
)
"""The languages in which months in words are looked for."""

_LONGEST_DAY = 40
"""Characters of a day in words with its time (22 de septiembre de 2022 18:42 hs.)."""

MONTH_FIRST = ("USD", "CAD")
"""The currencies of the countries where the month is written before the day."""

_UTF8 = (ASCII, "utf-8", "utf-8-sig")
_FITS = 0.9
"""A size system is possible when so many of the labels are shoe sizes in it."""

_DAY_BEFORE_MONTH = r"^\s*(?:\p{L}+\.?,? +)?\d{1,2}[^\d\p{L}]*\p{L}.*\d{2,4}\b"
"""A day whose month is written in words, after the number of the day (5 March 2024, 5-Mar-24)."""

_LEAST_STEM, _LONGEST_ENDING = 6, 2
"""Letters of a venue's name that a file's name has at least, and of an ending that it may leave out."""

_DECIMALS = r"[.,]0*[1-9]\d?\D*$"
"""One or two decimals that are not zeros: no whole number of minor units."""

_VERY_EXPENSIVE = 3000
"""Euros; where the usual price of an export is above it and all are whole, they may be cents."""

_DAY_FIELDS = ("sold_on", "closed_on", "offered_on", "bought_on")


OF_THE_VENUE = "the venue's own; no column says it"
OF_EVERY_VENUE = "that of every venue that it may be; no column says it"
"""Why a currency is proposed that changes with the venue."""


@dataclass(frozen=True)
class Setting:
    """A key of an export map that the file decides, with the reason."""

    key: str
    value: str | Decimal | tuple[str, ...]
    why: str


@dataclass(frozen=True)
class Question:
    """A key that the file does not tell and the owner must: the values it can have, and why it is open."""

    key: str
    choices: tuple[str, ...]
    why: str


Said = Setting | Question


def read_settings(
    path: Path,
    table: TextTable,
    market: Market,
    columns: Mapping[str, str],
    account: Account,
    language: str,
) -> list[Said]:
    """Return what the file says of its venue, encoding, days, money and sizes, and what it leaves open.

    `columns` maps fields to the columns that are taken to hold them, `account` says what the amounts are.
    """
    said = [_venue(path, table, market, columns, account)]
    if table.encoding is not None and table.encoding not in _UTF8:
        said.append(Setting("encoding", table.encoding, "so the bytes were read"))
    money = _money(table, market, columns, account, said[0])
    said += _days(table, columns, language, money)
    said += money
    if "size_system" not in columns and "size_label" in columns:
        labels = _texts(table, columns, "size_label")
        if list(columns.values()).count(columns["size_label"]) > 1:
            parts = split_cells(labels)["part"]
            labels = parts.filter(look_up(parts, read_sizes(parts, system="EU"))["foot_mm"].is_not_null())
        said += _sizes(columns["size_label"], labels, market)
    return said


def likely_currency(path: Path, table: TextTable, market: Market) -> str:
    """Return the currency of the venues that a file's name names, else the base currency."""
    currencies = {venue.currency for venue in _venues_in(written(f"{path.stem} {table.sheet}"), market)}
    return currencies.pop() if len(currencies) == 1 else market.base_currency


def likely_language(table: TextTable) -> str:
    """Return the language in which the most cells read as days; English where it makes no difference."""
    samples = [
        distinct_texts(table.cells[name], "text")["text"].sort().head(200) for name in table.cells.columns
    ]
    texts = pl.concat(samples)
    in_words = (
        texts.str.contains(r"\p{L}") & texts.str.contains(r"\d") & (texts.str.len_chars() < _LONGEST_DAY)
    )
    worded = texts.filter(in_words)
    return language_of_days(worded, LANGUAGES)


def _texts(table: TextTable, columns: Mapping[str, str], *fields: str) -> pl.Series:
    return _of(table, [columns[field] for field in fields if field in columns])


def _of(table: TextTable, names: list[str]) -> pl.Series:
    found = [table.cells[name].alias("text") for name in names]
    return pl.concat(found).drop_nulls() if found else pl.Series("text", dtype=pl.String)


def _decided(key: str, decision: ColumnChoice, choices: tuple[str, ...]) -> Said:
    if decision.value is None:
        return Question(key, choices, f"the column is ambiguous: {decision.why}")
    return Setting(key, decision.value, f"{decision.confidence:.0%}: {decision.why}")


def _venue(
    path: Path, table: TextTable, market: Market, columns: Mapping[str, str], account: Account
) -> Said:
    names = [venue.name for venue in market.venues]
    if "venue" in columns:
        stated = table.cells[columns["venue"]].drop_nulls().value_counts().rows()
        usual = sorted(stated, key=lambda one: (-one[1], one[0]))
        for name, _ in usual:
            if (found := find_alike(name, names)) is not None:
                return Setting("venue", found, f"the usual one in {columns['venue']!r}")
    near = _venues_in(written(f"{path.stem} {table.sheet}"), market)
    if account.basis == "hammer" and len(near) > 1:
        near = [venue for venue in near if venue.kind == "auction"] or near
    if len(near) == 1:
        return Setting("venue", near[0].name, "from the file's name")
    names = [venue.name for venue in near] or names
    why = "a column names the venue; say the usual one" if "venue" in columns else "which venue is it?"
    return Question("venue", tuple(names), why)


def _venues_in(file_name: str, market: Market) -> list[Venue]:
    """Return the venues of which most words, or one that no other venue has, stand in a file's name."""
    spelled = {
        venue.name: [
            one
            for one in zip(*(form.split() for form in spellings(venue.name)), strict=True)
            if len(one[0]) > 3
        ]
        for venue in market.venues
    }
    words = {name: {one[0] for one in several} for name, several in spelled.items()}
    every = [word for several in words.values() for word in several]
    there = {
        one[0]
        for several in spelled.values()
        for one in several
        if any(word in file_name or _begins_alike(word, file_name) for word in one)
    }
    own = {word for word in there if every.count(word) == 1}
    together = [
        venue
        for venue in market.venues
        if any(word in file_name.split() for form in spellings(venue.name) for word in _run_together(form))
    ]
    if len(together) == 1:
        return together
    named = [venue for venue in market.venues if words[venue.name] & own] or [
        venue for venue in market.venues if words[venue.name] & there
    ]
    shares = {venue.name: len(words[venue.name] & there) / len(words[venue.name]) for venue in named}
    return [venue for venue in named if shares[venue.name] == max(shares.values())]


def _run_together(name: str) -> list[str]:
    """Return the neighbouring words of a name written together (benlau for Ben Lau), long enough to tell a name."""
    words = name.split()
    return [first + second for first, second in pairwise(words) if len(first + second) >= _LEAST_STEM]


def _begins_alike(word: str, file_name: str) -> bool:
    """Whether a file's name holds a word without its ending (harsliget for Hársligeti, kivisalo for Kivisalon)."""
    return any(
        _LEAST_STEM <= len(one) < len(word) <= len(one) + _LONGEST_ENDING and word.startswith(one)
        for one in file_name.split()
    )


def _days(table: TextTable, columns: Mapping[str, str], language: str, money: list[Said]) -> list[Said]:
    texts = _texts(table, columns, *_DAY_FIELDS)
    if texts.len() == 0:
        return []
    decision = decide_date_order(texts)
    if decision.value is None:
        others = _other_days(table, columns, language)
        if others.len() and (beside := decide_date_order(others)).value not in (None, "ymd"):
            decision = beside
    if decision.value is None and (why := _not_american(texts, language, money)):
        readable = read_dates(texts, order="dmy", language=language)["day"].is_not_null()
        if readable.all():
            decision = ColumnChoice.counted("dmy", readable.len(), readable.len(), why)
    if decision.value == "ymd" and texts.str.contains(_DAY_BEFORE_MONTH).all():
        decision = replace(decision, value="dmy")
    said = [_decided("date_order", decision, ("dmy", "mdy", "ymd"))]
    if language != "en":
        said.append(Setting("language", language, "from months in words"))
    return said


def _other_days(table: TextTable, columns: Mapping[str, str], language: str) -> pl.Series:
    """Return the cells of the columns of days that no field is read from: an export writes all its days alike."""
    taken = set(columns.values())
    days = []
    for name in sorted(set(table.cells.columns) - taken):
        texts = distinct_texts(table.cells[name], "text")["text"]
        marked = texts.str.contains(r"^\d{1,2}[./-]\d{1,2}[./-]\d{2,4}\b")
        if texts.len() and marked.all():
            days.append(name)
    return _of(table, days)


def _not_american(texts: pl.Series, language: str, money: list[Said]) -> str:
    """Return why the month does not stand before the day; "" where it may."""
    if texts.str.contains(r"^\s*\d{1,2}\.\d{1,2}\.\d{2,4}").all():
        return "days parted by full stops begin with the day"
    if language != "en":
        return f"only American exports begin with the month, and this one is in {language!r}"
    settled = {one.key: one.value for one in money if isinstance(one, Setting)}
    if settled.get("decimal_mark") == ",":
        return "only American exports begin with the month, and this one has decimal commas"
    if "currency" in settled and settled["currency"] not in MONTH_FIRST:
        return f"only American exports begin with the month, and this one is in {settled['currency']}"
    return ""


def _money(
    table: TextTable, market: Market, columns: Mapping[str, str], account: Account, venue: Said
) -> list[Said]:
    texts = _texts(table, columns, "price_native", "ask_native", "work_paid")
    if texts.len() == 0:
        return []
    said = [_mark(texts, table, account)]
    if "currency" not in columns:
        said.append(_currency(texts, said[0], market, columns, venue))
    said += _unit(table, market, columns, account, said)
    if "price_native" in columns:
        said += _price(columns["price_native"], account, market, venue)
    return said


def _mark(texts: pl.Series, table: TextTable, account: Account) -> Said:
    decision = decide_decimal_mark(texts)
    if decision.value is None:
        every = decide_decimal_mark(_of(table, sorted(account.columns)))
        decision = every if every.value is not None else decision
    if decision.value is not None:
        return _decided("decimal_mark", decision, (".", ","))
    if table.numbers_are_plain:
        return Setting("decimal_mark", ".", "the format stores numbers")
    marks = {mark for mark in ",." if texts.str.contains(rf"\d\{mark}\d{{3}}(?:\D|$)").any()}
    if not texts.str.contains(r"[.,]\d").any():
        return Setting("decimal_mark", ".", "no amount has a mark")
    if len(marks) == 1:
        [thousands] = marks
        why = f"{thousands!r} stands before three digits, which are no decimals of a price"
        return Setting("decimal_mark", "," if thousands == "." else ".", why)
    return _decided("decimal_mark", decision, (".", ","))


def _unit(
    table: TextTable, market: Market, columns: Mapping[str, str], account: Account, money: list[Said]
) -> list[Said]:
    """Return the key of minor units where the heading of whole amounts says them, or the question where it is open.

    It is open where no amount of the file has a mark, and the usual one would be that of a very expensive pair.
    """
    column = columns.get("price_native", columns.get("ask_native", ""))
    texts = distinct_texts(table.cells[column], "text")["text"]
    if texts.str.contains(_DECIMALS).any():
        return []
    if says_minor_units(column):
        why = f"{column!r} says so, and its amounts are whole"
        return [Setting("amounts", "minor", why)]
    amounts = [name for name, one in account.columns.items() if one.role not in ("rate", "quantity", None)]
    if _of(table, sorted({column, *amounts})).str.contains(r"\d[.,]\d").any():
        return []
    code = _usual_code(table, market, columns, money)
    read = read_amounts(table.cells[column], decimal_mark=".")
    prices = look_up(table.cells[column], read)["amount"].cast(pl.Float64).abs()
    rates = ecb_rates().filter(pl.col("currency") == code).sort("day")["per_euro"]
    per_euro = 1.0 if rates.is_empty() else float(rates[-1])
    usual = float(prices.filter(prices > 0).median() or 0.0) / per_euro  # type: ignore[arg-type]
    if usual < _VERY_EXPENSIVE or currency_precisions().get(code, 0) == 0:
        return []
    why = f"is 12345 in {column!r} an amount of 12,345 {code} (major), or of 123.45, in cents or the like (minor)?"
    return [Question("amounts", ("major", "minor"), why)]


def _usual_code(table: TextTable, market: Market, columns: Mapping[str, str], money: list[Said]) -> str:
    """Return the currency of most amounts: that of its column, or that which was settled; else the base currency."""
    if "currency" in columns:
        cells = table.cells[columns["currency"]]
        codes = look_up(cells, read_currencies(cells))["currency_stated"].drop_nulls().mode().sort()
        return market.base_currency if codes.is_empty() else str(codes[0])
    settled = [str(one.value) for one in money if one.key == "currency" and isinstance(one, Setting)]
    return settled[0] if settled else market.base_currency


def _currency(texts: pl.Series, mark: Said, market: Market, columns: Mapping[str, str], venue: Said) -> Said:
    comma = isinstance(mark, Setting) and mark.value == ","
    read = read_amounts(texts, decimal_mark="," if comma else ".")
    signs = tuple(read["currency"].drop_nulls().unique().sort().to_list())
    if len(signs) == 1:
        return Setting("currency", signs[0], "from the sign in the cells")
    heading = columns.get("price_native", "")
    codes = [
        code for code in sorted(list_currencies()) if says_any(heading, (code,)) and code in heading.upper()
    ]
    sign = read_amounts(pl.Series([f"1 {one}" for one in "€£¥" if one in heading]), decimal_mark=".")
    named = [*codes, *sign["currency"].drop_nulls().to_list()]
    if not signs and len(named) == 1:
        return Setting("currency", named[0], f"from the heading {heading!r}")
    if not signs and isinstance(venue, Setting):
        return Setting("currency", market.venue(str(venue.value)).currency, OF_THE_VENUE)
    usual = {market.venue(name).currency for name in venue.choices} if isinstance(venue, Question) else set()
    if not signs and len(usual) == 1:
        return Setting("currency", usual.pop(), OF_EVERY_VENUE)
    return Question("currency", signs, "no column and no sign says it")


def _price(column: str, account: Account, market: Market, venue: Said) -> list[Said]:
    said: list[Said] = []
    if account.basis is not None:
        said.append(Setting("price_basis", account.basis, account.basis_why))
    elif meanings(column) and isinstance(venue, Setting) and _takes_nothing(market, str(venue.value)):
        said.append(Setting("price_basis", "all-in", f"{venue.value} takes nothing from buyers"))
    else:
        why = "a number does not say if it is the hammer price, all that the buyer paid, or the seller's net"
        said.append(Question("price_basis", PRICE_BASES, why))
    if account.quantity_price is not None:
        said.append(Setting("quantity_price", account.quantity_price, account.quantity_why))
    elif account.quantity is not None:
        why = f"is {column!r} the price of the line, all its pairs together, or of the unit, one pair?"
        said.append(Question("quantity_price", ("line", "unit"), why))
    if account.tax is None:
        return said
    said.append(Setting("tax", account.tax, account.tax_why))
    if account.tax == "excluded":
        if account.tax_column is not None:
            said.append(Setting("tax_column", account.tax_column, "the tax that is added to it"))
        elif account.tax_rate is not None:
            said.append(Setting("tax_rate", Decimal(account.tax_rate), "the one rate that the export has"))
        else:
            why = f"{column!r} is without tax, and no column says how much of it the buyer pays on top"
            said.append(Question("tax_rate", (), why))
    return said


def _takes_nothing(market: Market, name: str) -> bool:
    venue = market.venue(name)
    return venue.kind != "auction" and all(fees.party != "buyer" for fees in venue.fees)


def _sizes(heading: str, texts: pl.Series, market: Market) -> list[Said]:
    if texts.len() == 0 or read_sizes(texts, system=None)["size_system"].is_not_null().all():
        return []
    lengths = {system: read_sizes(texts, system=system)["foot_mm"] for system in SIZE_SYSTEMS}
    fitting = tuple(system for system, mm in lengths.items() if mm.is_not_null().sum() >= _FITS * mm.len())
    if len(fitting) == 1:
        return [Setting("size_system", fitting[0], "the only system in which the labels are shoe sizes")]
    said = [system for system, words in SIZE_SYSTEM_WORDS.items() if says_any(heading, words)]
    if said and said[0] in (fitting or SIZE_SYSTEMS):
        return [Setting("size_system", said[0], f"from the heading {heading!r}")]
    if market.sizes.usual in fitting and market.sizes.usual is not None:
        return [Setting("size_system", market.sizes.usual, "your usual system")]
    return [Question("size_system", fitting or SIZE_SYSTEMS, "the labels do not name their system")]
