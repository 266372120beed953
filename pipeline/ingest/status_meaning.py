"""What a word of a status column says of how an offer ended, in the languages that dealers meet.

A phrase that `STATUS_WORDS` lists is what it says there. Of any other the stems of its words decide ("Zahlung
ausstehend", "cancelled by the buyer", "zakończona bez sprzedaży"); where they contradict each other nothing does.
"""

import re
from collections.abc import Iterable, Mapping
from functools import cache

from pipeline.ingest.heading_meaning import all_written, written
from pipeline.ingest.status_words import STATUS_STEMS, STATUS_WORDS

_LONGEST = 60
_WHOLE_WORD = 4
"""A stem of so few letters must be a whole word."""

_ASIAN = re.compile(r"[\u3040-\u30ff\u3400-\u9fff\uac00-\ud7a3\u1100-\u11ff]")

YES_OR_NO = frozenset(
    all_written(
        [
            *("yes", "no", "ja", "nein", "oui", "non", "sì", "sí", "si", "sim", "não", "nee", "tak", "nie", "nej"),
            *("nei", "joo", "kyllä", "ei", "ano", "ne", "y", "n", "da", "nu", "igen", "nem", "evet", "hayır", "áno"),
            *("так", "ні", "да", "не", "нет", "jah", "jā", "nē", "taip", "já", "ναι", "όχι", "כן", "לא"),
            *("نعم", "لا", "ใช่", "ไม่", "có", "không", "ya", "tidak"),
        ]
    )
)  # fmt: skip
"""Words that answer any question, not only whether a pair was sold."""

_NOT = "not"
_PAID = "paid"
_DONE = "done"
"""What follows a sale: sent, delivered, settled. "Not sent yet" says nothing of the sale."""

_DENIED = {"sold": "unsold", "unsold": "unsold", _PAID: "unpaid"}
"""What a status means that is denied; "not sent", "not returned" say nothing of the sale."""

_SOLD = ("sold", _PAID, _DONE)

_NO_SALE = ("refunded", "returned", "unpaid", "cancelled", "withdrawn", "unsold")
"""What a text says that says several of them: the first of these."""


def status_of(text: str) -> str | None:
    """Return the status that a cell's word means in any of the languages (NO_BIDS, No bids), None where none."""
    said = written(text[:_LONGEST])
    return _phrases().get(said) or _by_stems(said)


@cache
def _phrases() -> dict[str, str]:
    return _all_written(STATUS_WORDS)


@cache
def _stems() -> tuple[dict[str, str], re.Pattern[str]]:
    """Return stem → what it says, and the pattern that finds the longest stem at each place."""
    meaning = _all_written(STATUS_STEMS)
    longest_first = sorted(meaning, key=lambda stem: (-len(stem), stem))
    asian = [stem for stem in longest_first if _ASIAN.search(stem)]
    whole = [stem for stem in longest_first if stem not in asian and len(stem) <= _WHOLE_WORD]
    others = [stem for stem in longest_first if stem not in asian and len(stem) > _WHOLE_WORD]
    found = rf"({'|'.join(asian)})|\b(?:({'|'.join(others)})\w*|({'|'.join(whole)})\b)"
    return meaning, re.compile(found)


def _all_written(words: Mapping[str, Iterable[str]]) -> dict[str, str]:
    """Return each word as headings are compared → what it is listed under."""
    listed = [(word, meaning) for meaning, several in words.items() for word in several]
    return dict(zip(all_written(word for word, _ in listed), (meaning for _, meaning in listed), strict=True))


def _by_stems(said: str) -> str | None:
    """Return the status that the stems in a text agree on."""
    meaning, pattern = _stems()
    found: list[str] = []
    for match in pattern.finditer(said):
        says = meaning[next(stem for stem in match.groups() if stem is not None)]
        if found and found[-1] == _NOT and says != _NOT:
            found[-1] = _DENIED.get(says, _NOT)
        else:
            found.append(says)
    if len(found) > 1 and found[-1] == _NOT:
        found[-2:] = [_DENIED.get(found[-2], _NOT)]
    if not found or _NOT in found:
        return None
    undone = [says for says in found if says in _NO_SALE]
    if undone:
        resold = undone[0] == "unsold" and found[-1] in _SOLD
        return None if resold else min(undone, key=_NO_SALE.index)
    if "deposit" in found and found[0] != "open":
        return "deposit"
    if found[0] == "open":
        return None if "sold" in found else "open"
    return "sold"
