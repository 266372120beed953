"""The signs and words by which amounts of money name their currency, in the languages of the world."""

from functools import cache
from pathlib import Path
from typing import NamedTuple

import polars as pl
from babel.numbers import list_currencies

from pipeline.ingest.cells import spaced

FILE = Path(__file__).with_suffix(".csv")
"""What the money of each country is called in its own languages (Unicode CLDR): word,currencies."""

_ALSO = {
    "rs": "INR LKR MUR NPR PKR", "us$": "USD", "a$": "AUD", "au$": "AUD", "c$": "CAD", "ca$": "CAD",
    "nz$": "NZD", "hk$": "HKD", "s$": "SGD", "nt$": "TWD", "mx$": "MXN", "jp¥": "JPY", "cn¥": "CNY",
    "元": "CNY", "人民幣": "CNY", "日圓": "JPY", "日元": "JPY", "원": "KRW", "港幣": "HKD", "港币": "HKD",
    "台幣": "TWD", "臺幣": "TWD", "新臺幣": "TWD", "euro": "EUR", "£": "GBP", "fr": "CHF", "sfr": "CHF",
    "tl": "TRY", "lei": "RON", "leu": "RON", "forint": "HUF", "korun": "CZK", "złotych": "PLN", "руб": "RUB",
    "р": "RUB", "r": "ZAR", "грн": "UAH", "đ": "VND", "din": "RSD", "дин": "RSD", "тг": "KZT", "ден": "MKD",
    "שח": "ILS", "лев": "BGN", "лева": "BGN", "гривень": "UAH", "гривні": "UAH", "kronor": "SEK",
    "krónur": "ISK", "kroner": "DKK NOK",
}  # fmt: skip
"""Abbreviations and signs that the trade writes besides, and what a sign means of those that several countries use."""


_EVERYDAY = ("ar", "da", "le", "um", "won")
"""Words of CLDR that say something else before a number in another language (da 450: from 450)."""


def written_words(words: pl.Expr) -> pl.Expr:
    """Return words for currencies as they are compared: in small letters, without stops and apostrophes."""
    return spaced(words).str.to_lowercase().str.replace_all(r"[.'’ʻʼ\"״׳]", "").str.strip_chars()


class Signs(NamedTuple):
    """What the words for currencies mean in a column: those that name one, and those that name one of several."""

    named: dict[str, str]
    shared: frozenset[str]


@cache
def signs_of(stated: str | None) -> Signs:
    """Return what each word means in a column of which the currency is `stated`, or is not known.

    A word that several countries use ("$", "kr") means the stated currency where that is one of theirs; where none is
    stated it names none, but "¥" is the yen sign (its Unicode name). A letter alone counts only for the stated one.
    """
    named, shared = dict[str, str](), set[str]()
    for word, codes in _currencies_of_words().items():
        usual = _ALSO.get(word, "").split()
        if stated in codes:
            named[word] = str(stated)
        elif len(usual) == 1:
            named[word] = usual[0]
        elif len(word) == 1 and word.isalpha() and word.isascii():
            continue
        elif len(codes) == 1:
            named[word] = codes[0]
        elif word == "¥" and stated is None:
            named[word] = "JPY"
        else:
            shared.add(word)
    return Signs(named, frozenset(shared))


@cache
def _currencies_of_words() -> dict[str, tuple[str, ...]]:
    """Return word → the currencies that go by it, with their ISO 4217 codes."""
    of_cldr = pl.read_csv(FILE, quote_char=None).rows()
    together: dict[str, tuple[str, ...]] = {}
    for word, codes in (*_ALSO.items(), *of_cldr):
        together[word] = tuple(dict.fromkeys((*together.get(word, ()), *codes.split())))
    for word in _EVERYDAY:
        together.pop(word, None)
    return together | {code.lower(): (code,) for code in sorted(list_currencies())}
