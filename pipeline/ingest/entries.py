"""What each phrase of the market file and of the grammar means to a reader of titles."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.config import Market
from pipeline.ingest.compared import GRADE_MARK, THING_MARK, compared_list
from pipeline.ingest.grades import grade_phrases
from pipeline.ingest.variants import (
    BEATEN,
    LOOSE,
    defect_variants,
    lasting_variants,
    materials_in,
    overlay_variants,
    part_variants,
    tag_nouns,
)
from pipeline.schema import CLOSED_FIELDS, GRADES

Role = Literal[
    "mention",
    "noun",
    "not",
    "none",
    "not yet",
    "unsure",
    "doubt",
    "or",
    "and",
    "comma",
    "break",
    "absent",
    "filler",
]

BOX_PIECES = tuple(
    f"{box} {piece}"
    for box in ("box", "shoebox")
    for piece in ("lid", "top", "end", "label", "insert", "corner")
)
"""Pieces of the box, whose condition is not the pair's ("box lid yellowed")."""

SET_KINDS = ["box", "tags", "parts"]
"""The kinds that belong to the original set of a pair."""

YEARS = range(1950, 2050)
"""A bare year ends what is said before it; it says no more unless the owner's phrases hold it."""

_CONNECTORS: dict[Role, tuple[str, ...]] = {
    "or": ("or", "nor"),
    "and": ("and",),
    "comma": (",",),
    "break": (
        *("|", "but", "though", "although", "however", "otherwise", "except", "apart from", "only"),
        *("from", "by", "at", "on", "to", "since", "after", "before", "despite", "throughout", "considering"),
        *(f"style {noun}" for noun in ("code", "no", "number", "name", "id")),
        *(f"{how} boxed" for how in ("double", "well", "carefully", "securely", "safely")),
        *BEATEN,
    ),
    "none": ("none", "nil", "no longer there", "removed", "repaired", "cured"),
    "doubt": ("?",),
    "absent": (
        *("included", "present", "supplied", "available", "there", "here", "with it", "with them", "shown"),
        *("done", "made", "performed", "carried out", "in sight", "to be found", "dabei", "vorhanden"),
    ),
    "filler": (
        *("a", "an", "the", "any", "its", "it", "his", "her", "their", "of", "with", "has", "have", "had"),
        *(
            "is",
            "are",
            "was",
            "were",
            "be",
            "been",
            "being",
            "does",
            "do",
            "did",
            "come",
            "comes",
            "coming",
            "include",
            "includes",
        ),
        *("ever", "recently", "professionally", "longer", "sign", "signs", "trace", "traces", "visible"),
        *("obvious", "other", "further", "major", "real", "serious", "significant", "sadly", "alas"),
        *("unfortunately", "both", "all", "just", "very", "really", "quite", "yet", "still"),
        *("condition", "cond", "pair", "shape", "example", "state", "used", "overall", "vintage", "shoes"),
        *("sneakers", "trainers", "up", "for", "in", "year", "years", "old", "certainly", "surely"),
        *("first", "next", "another", "new", "full", "proper", "thorough", "quick"),
        *("long", "now", "already", "also", "too", "as well", "completely", "sorry", "anymore", "any more"),
        *(f"{will} {come}" for will in ("will", "can") for come in ("come", "include")),
    ),
}
"""The English words that hold a sentence together (and two German ones that close it)."""


@dataclass(frozen=True)
class Entry:
    """A phrase as it is compared, its role, and for mentions and nouns what it means.

    A colourway without a silhouette is one that all have.
    `written` is what a title writes where the owner's phrases do not have it and its meaning is taken from another.
    """

    phrase: str
    role: Role
    kind: str = ""
    value: str = ""
    silhouette: str = ""
    denied: bool = False
    written: str = ""


def entries(market: Market) -> Iterator[Entry]:
    """Yield every phrase of the market file and of the grammar."""
    words = market.words
    for silhouette in market.silhouettes:
        yield Entry(silhouette.maker, "mention", "maker", silhouette.maker)
        for phrase in (silhouette.name, *silhouette.phrases):
            yield Entry(phrase, "mention", "silhouette", silhouette.name)
        for colourway in market.own_colourways(silhouette):
            for phrase in (colourway.name, *colourway.phrases):
                yield Entry(phrase, "mention", "colourway", colourway.name, silhouette.name)
    for colourway in market.colourways:
        for phrase in (colourway.name, *colourway.phrases):
            yield Entry(phrase, "mention", "colourway", colourway.name)
    for era in market.eras:
        alone = " " in era.name.strip() or "-" in era.name
        names = (
            (era.name,)
            if alone
            else tuple(f"{era.name} {noun}" for noun in ("run", "era", "series", "edition"))
        )
        for phrase in (*names, *era.phrases):
            yield Entry(phrase, "mention", "era", era.name)
    for kind, items in (
        ("defects", market.defects),
        ("parts", market.parts),
        ("treatments", market.treatments),
    ):
        for item in items:
            for phrase in (item.name, *item.phrases):
                yield from _with_prefix(Entry(phrase, "mention", kind, item.name), market)
    for defect in market.defects:
        for phrase in (defect.name, *defect.phrases):
            for variant in defect_variants(phrase, market):
                yield Entry(variant, "mention", "defects", defect.name)
                for material in materials_in(variant, market):
                    yield Entry(variant, "mention", "overlay", material)
    for part in market.parts:
        for phrase in (part.name, *part.phrases):
            yield from (Entry(form, "mention", "parts", part.name) for form in part_variants(phrase))
    turned = {"overlay": overlay_variants, "lasting": lasting_variants}
    for field in (name for name in CLOSED_FIELDS if name not in SET_KINDS):
        for value, phrases in getattr(words, field).items():
            for phrase in phrases:
                for form in (phrase, *(turned[field](phrase) if field in turned else ())):
                    yield Entry(form, "mention", field, value)
    for box, phrases in words.box.items():
        yield from _of_the_set("box", box, phrases, words.not_words)
    for tags, phrases in words.tags.items():
        yield from _of_the_set("tags", tags, phrases, words.not_words)
    yield from _loose_tags(market)
    yield from (Entry(phrase, "mention", "box piece") for phrase in BOX_PIECES)
    for word in grade_phrases(words.grades):
        yield Entry(word.phrase, "mention", "grade word", str(word.grade), written=word.stepped)
    for grade in GRADES:
        yield Entry(f"{GRADE_MARK}{round(grade * 2)}", "mention", "grade", str(grade))
    yield Entry(THING_MARK, "mention", "thing")
    for phrase in words.restored_words:
        yield from _with_prefix(Entry(phrase, "mention", "restored"), market)
    for phrase in words.flaw_words:
        yield Entry(phrase, "mention", "flaw")
        yield Entry(f"{phrase}less", "mention", "flaw", denied=True)
    yield from (Entry(phrase, "mention", "piece") for phrase in words.piece_words)
    yield from (Entry(phrase, "not") for phrase in words.not_words)
    yield from (Entry(phrase, "not yet") for phrase in words.not_yet_words)
    yield from (Entry(phrase, "unsure") for phrase in words.unsure_words)
    yield from (Entry(str(year), "break") for year in YEARS)
    for role, phrases in _CONNECTORS.items():
        yield from (Entry(phrase, role) for phrase in phrases)


def _with_prefix(entry: Entry, market: Market) -> Iterator[Entry]:
    """Yield an entry, and its denial with "un" before it where "un" is one of the owner's not-words."""
    yield entry
    if "un" in market.words.not_words:
        yield Entry(f"un{entry.phrase}", "mention", entry.kind, entry.value, denied=True)


def _of_the_set(
    kind: str, value: str, phrases: tuple[str, ...], not_words: tuple[str, ...]
) -> Iterator[Entry]:
    """Yield the entries of box or tags: a "none" phrase that is a not-word and a noun becomes the noun."""
    denied = _denied_nouns(phrases, not_words) if value == "none" else [set[str]()] * len(phrases)
    for phrase, nouns in zip(phrases, denied, strict=True):
        if nouns:
            forms = nouns | {_plural(noun) for noun in nouns}
            yield from (Entry(noun, "noun", kind, "") for noun in sorted(forms))
            yield from (Entry(f"{noun}less", "mention", kind, value) for noun in sorted(nouns))
        else:
            yield Entry(phrase, "mention", kind, value)


def _denied_nouns(phrases: tuple[str, ...], not_words: tuple[str, ...]) -> list[set[str]]:
    """Return what each phrase denies ("no tags" → "tags"); empty where it denies nothing."""
    denials = {*compared_list(not_words), "not included", "not present"}
    return [
        {phrase.removeprefix(f"{word} ") for word in denials if phrase.startswith(f"{word} ")}
        | {phrase.removesuffix(f" {word}") for word in denials if phrase.endswith(f" {word}")}
        for phrase in compared_list(phrases)
    ]


def _loose_tags(market: Market) -> Iterator[Entry]:
    """Yield the entries of tags that are there but not on the pair ("hang tags removed but kept")."""
    said = market.words.tags
    denied = _denied_nouns(said.get("none", ()), market.words.not_words)
    bare = {form for nouns in denied for noun in nouns for form in (noun, _plural(noun))}
    for noun in sorted(tag_nouns(bare, compared_list(said.get("attached", ())))):
        yield from (Entry(f"{noun} {how}", "mention", "tags", "loose") for how in LOOSE)


def _plural(noun: str) -> str:
    """Return the English plural of a noun ("box" → "boxes", "tag" → "tags")."""
    return f"{noun}es" if noun.endswith(("s", "x", "ch", "sh")) else f"{noun}s"
