"""What a column's heading says that it holds, by the words of the trade in several languages."""

import re
from collections.abc import Iterable, Iterator
from functools import cache, lru_cache
from typing import NamedTuple

from pipeline.alike import fold_all
from pipeline.ingest.amount_words import AMOUNT_WORDS, MINOR_WORDS
from pipeline.ingest.header_words import FIELD_WORDS, NOT_READ_WORDS, SALE_DAY_PARTS

NOT_READ = "not read"
"""What a heading means that no field of a sale record is read from."""

WHOLE, PART, INSIDE = 0.6, 0.4, 0.3
"""How much a word says that is the whole heading, a part of it, or a part of one of its words."""

_LEAST_INSIDE = 5
"""Letters of a word that is looked for inside a longer one (Zuschlag in Zuschlagsbetrag)."""

_MOST_WORDS = 6
_MOST_LETTERS = 200
_LETTERS = str.maketrans({"ø": "o", "ł": "l", "æ": "ae", "đ": "d", "ı": "i", "œ": "oe"})
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa"})
_SHORTENED = {"w/o": "without", "w/": "with", "s/": "sem", "c/": "com", "m/": "med", "u/": "uden"}
"""Words for with and without as headings shorten them (Valor s/ IVA, Price w/ BP)."""

_NEXT_WORD = re.compile(r"(?<=[a-z])(?=[A-Z])(?!(?<=\b[A-Z][a-z])[A-Z][a-z]\b)")
"""Where a word begins within another (saleDate); MwSt is one word."""

_SHORT_FORM = re.compile(r"\b(?:w/o|[wscmu]/)(?=\s?\w{2})")
_PARTICIPLE = re.compile(r"\b(\w{2,}(?:ad|id|ut|at|it|on|an))o\b")
"""A participle or adjective that ends otherwise where it speaks of a pair as of a woman (vendido, vendida)."""

_PER_CENT = ("per cent", "pour cent")

_UNSPACED = re.compile(r"[\u0e00-\u0eff\u3040-\u30ff\u3400-\u9fff\uac00-\ud7a3\u1100-\u11ff]")
"""Signs of languages that write words together; folding takes Korean syllables apart."""


class Meaning(NamedTuple):
    """One meaning of a heading: a field, an amount of an account or NOT_READ; how surely; by which word."""

    role: str
    score: float
    word: str


def meanings(heading: str) -> dict[str, Meaning]:
    """Return what a heading may mean, by role. A word that lies within a longer word that is known says nothing.

    "Buyer's premium" is a premium and no buyer, "Payment date" is read by nothing and no date of sale.
    """
    text = written(heading)[:_MOST_LETTERS]
    found = [*_phrases_in(text), *_parts_of_words(text)]
    longest = [
        one for one in found if not any(_lies_within(one, other) for other in found if other is not one)
    ]
    best: dict[str, Meaning] = {}
    for start, end, score, word in sorted(longest, key=lambda one: -one[2]):
        whole = start == 0 and end == len(text)
        for role in _roles()[word]:
            best.setdefault(role, Meaning(role, WHOLE if whole else score, word))
    return best


@lru_cache(maxsize=20_000)
def written(heading: str) -> str:
    """Return a heading as headings are compared: folded, words apart (saleDate, sale_date → sale date)."""
    [one] = all_written([heading])
    return one


def all_written(headings: Iterable[str]) -> list[str]:
    """Return many headings as `written` does, at once."""
    folded = fold_all(_NEXT_WORD.sub(" ", heading) for heading in headings)
    return [_spaced(_SHORT_FORM.sub(lambda found: f" {_SHORTENED[found[0]]} ", text)) for text in folded]


def spellings(text: str) -> tuple[str, ...]:
    """Return a text as headings are compared, with its accents folded, and with umlauts as two letters."""
    return tuple(dict.fromkeys((written(text), written(text.lower().translate(_UMLAUTS)))))


def says_any(heading: str, words: Iterable[str]) -> bool:
    """Whether a heading or cell holds one of the words."""
    text = f" {written(heading)} "
    return any(
        (form in text) if _UNSPACED.search(form) else f" {form} " in text
        for word in words
        for form in _forms(word)
    )


def says_minor_units(heading: str) -> bool:
    """Whether a heading says that its amounts are in cents and the like; "per cent" is no such word."""
    return says_any(heading, MINOR_WORDS) and not says_any(heading, _PER_CENT)


def _spaced(folded: str) -> str:
    return " ".join(re.sub(r"[^\w%&§°+#]+", " ", folded.translate(_LETTERS).replace("_", " ")).split())


@cache
def _forms(word: str) -> tuple[str, ...]:
    """Return the ways in which a word is written: with its accents folded, and with umlauts as two letters."""
    return tuple(dict.fromkeys(map(_spaced, fold_all([word, word.lower().translate(_UMLAUTS)]))))


@cache
def _roles() -> dict[str, tuple[str, ...]]:
    """Return folded word → what it may mean."""
    roles: dict[str, dict[str, None]] = {}
    sale_days = [f"{first}{last}" for firsts, lasts in SALE_DAY_PARTS for first in firsts for last in lasts]
    listed = (*FIELD_WORDS.items(), *AMOUNT_WORDS.items(), (NOT_READ, NOT_READ_WORDS))
    known = {word for _, words in listed for word in words}
    for role, words in (*listed, ("sold_on", [day for day in sale_days if day not in known])):
        folded = fold_all([*words, *(word.lower().translate(_UMLAUTS) for word in words)])
        for word in map(_spaced, folded):
            roles.setdefault(word, {})[role] = None
            roles.setdefault(_PARTICIPLE.sub(r"\1a", word), {})[role] = None
    roles.pop("", None)
    return {word: tuple(several) for word, several in roles.items()}


Found = tuple[int, int, float, str]


def _phrases_in(text: str) -> Iterator[Found]:
    """Yield start, end, score, word of every known word or run of words."""
    words = [(match.start(), match.end()) for match in re.finditer(r"\S+", text)]
    for first, (start, _) in enumerate(words):
        for _, end in words[first : first + _MOST_WORDS]:
            if text[start:end] in _roles():
                yield start, end, PART, text[start:end]


def _parts_of_words(text: str) -> Iterator[Found]:
    """Yield what `_phrases_in` does, of words written together; of East Asian ones every run of signs is looked up."""
    for match in re.finditer(r"\S+", text):
        word, at = match.group(), match.start()
        unspaced = _UNSPACED.search(word) is not None
        spans = (
            ((start, end) for start in range(len(word)) for end in range(start + 1, len(word) + 1))
            if unspaced
            else (
                *((0, end) for end in range(_LEAST_INSIDE, len(word))),
                *((start, len(word)) for start in range(1, len(word) - _LEAST_INSIDE + 1)),
            )
        )
        for start, end in spans:
            if (end - start < len(word) or unspaced) and word[start:end] in _roles():
                yield at + start, at + end, PART if unspaced else INSIDE, word[start:end]


def _lies_within(one: Found, other: Found) -> bool:
    """Whether a found word is a part of a longer one, or an inner part beside a whole word at its place."""
    return other[0] <= one[0] and one[1] <= other[1] and other[1] - other[0] > one[1] - one[0]
