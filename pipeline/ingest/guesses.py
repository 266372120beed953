"""What a column of an unknown export may be: its name and its values, weighed against each field."""

import re
from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.alike import fold_all
from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.dates import read_dates
from pipeline.ingest.grades import read_grades
from pipeline.ingest.header_words import FIELD_WORDS, NOT_READ_WORDS, STATUS_WORDS
from pipeline.ingest.names import (
    CLOSED_FIELDS,
    allowed_words,
    closed_words,
    known_words,
    maker_words,
    read_names,
)
from pipeline.ingest.numbers import read_amounts
from pipeline.ingest.sizes import read_sizes
from pipeline.schema import SIZE_SYSTEMS

LOOKED_AT = 2_000
"""How many distinct values of a column are looked at."""

_BY_NAME = 0.6
_BY_PART_OF_NAME = 0.4
_BY_VALUES = 0.38
_LEAST_SHARE = 0.6
"""Of the values, so many must read as the field's kind."""


_ORDERS: tuple[Literal["dmy", "mdy", "ymd"], ...] = ("dmy", "mdy", "ymd")
_MARKS: tuple[Literal[".", ","], ...] = (".", ",")
_FEW_WORDS = 8
_OF_FEW_WORDS = 0.75
"""A column of a few words that are none of a field's may still hold it, once they are translated."""


@dataclass(frozen=True)
class Guess:
    """A field that a column may hold, with the confidence from zero to one."""

    column: str
    field: str
    confidence: float


def guess_fields(cells: pl.DataFrame, market: Market, language: str) -> list[Guess]:
    """Return every likely pair of column and field, the surest first.

    A name that is a word for the field weighs 0.6, one that contains such a word 0.4, and the share of
    values that read as the field's kind up to 0.38. A name without values that fit counts for little.
    """
    guesses = []
    for column in cells.columns:
        values = distinct_texts(cells[column], "text")["text"].head(LOOKED_AT)
        by_name = _name_scores(column)
        shares = _value_shares(values, cells[column].drop_nulls().len(), market, language)
        for field in FIELD_WORDS:
            name = by_name.get(field, 0.0)
            share = shares.get(field)
            if share is not None and values.len() and share < _LEAST_SHARE:
                name *= _OF_FEW_WORDS if field in CLOSED_FIELDS and values.len() <= _FEW_WORDS else 0.3
            weight = name + (_BY_VALUES * share if share is not None and share >= _LEAST_SHARE else 0.0)
            if name > 0 or (share or 0.0) >= _LEAST_SHARE:
                guesses.append(Guess(column, field, round(min(weight, 0.98), 2)))
    return sorted(guesses, key=lambda guess: (-guess.confidence, guess.column, guess.field))


def _name_scores(column: str) -> dict[str, float]:
    [name] = fold_all([re.sub(r"[_./]+", " ", column)])
    name = " ".join(name.split())
    if name in fold_all(NOT_READ_WORDS):
        return {}
    exact = {field: _BY_NAME for field, words in FIELD_WORDS.items() if name in fold_all(words)}
    partly = {
        field: _BY_PART_OF_NAME
        for field, words in FIELD_WORDS.items()
        if field not in exact and any(re.search(rf"\b{re.escape(word)}\b", name) for word in fold_all(words))
    }
    return partly | exact


def _value_shares(values: pl.Series, filled: int, market: Market, language: str) -> dict[str, float]:
    """Return, for the fields whose values have a kind, the share of distinct values of that kind.

    Kinds that short codes or free text share with anything (numbers of lots, notes) are not judged.
    """
    if values.len() == 0:
        return {}
    by_order = (read_dates(values, order=order, language=language) for order in _ORDERS)
    days = max(_read_share(read, "day") for read in by_order)
    is_text = values.str.contains(r"\p{L}")
    by_mark = (read_amounts(values, decimal_mark=mark) for mark in _MARKS)
    amounts = max(_read_share(read, "amount") for read in by_mark)
    amounts = 0.0 if days > amounts else amounts
    sizes = max(_read_share(read_sizes(values, system=system), "foot_mm") for system in SIZE_SYSTEMS)
    names = {
        "maker": maker_words(market),
        "silhouette": known_words(market.silhouettes),
        "era": known_words(market.eras),
        "venue": allowed_words(venue.name for venue in market.venues),
        "size_system": allowed_words(SIZE_SYSTEMS),
        "status": allowed_words((), STATUS_WORDS),
        **{field: closed_words(market, field) for field in CLOSED_FIELDS},
    }
    shares = {field: _read_share(read_names(values, words), "value") for field, words in names.items()}
    shares |= dict.fromkeys(("offered_on", "closed_on", "sold_on"), days)
    shares |= dict.fromkeys(("price_native", "ask_native"), amounts)
    shares["size_label"] = sizes
    shares["grade"] = _read_share(read_grades(values, dict(market.words.grades)), "grade")
    shares["currency"] = _share(values.str.contains(r"^[A-Za-z]{3}$|^\p{Sc}$"))
    varied = min(1.0, 2 * values.len() / max(filled, 1))
    shares["title"] = varied * _share((values.str.len_chars() > 12) & is_text)
    few = values.len() <= 8 and filled > 3 * values.len()
    shares["status"] = max(shares["status"], 0.65 if few and bool(is_text.all()) else 0.0)
    return shares


def _read_share(read: pl.DataFrame, column: str) -> float:
    return 0.0 if read.height == 0 else _share(read[column].is_not_null())


def _share(holds: pl.Series) -> float:
    return int(holds.sum()) / max(holds.len(), 1)
