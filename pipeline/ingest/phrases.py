"""The phrase book: every word of the market file that a title may use, with what it means and its role."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.config import Market
from pipeline.ingest.cells import folded, plain
from pipeline.ingest.spelling import slips_of
from pipeline.ingest.variants import BEATEN, LOOSE, defect_variants, materials_in, tag_nouns
from pipeline.schema import GRADES

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

GRADE_MARK = "\ue000"
"""A private-use character that stands before a number of half grades, such as \ue00017 for 8.5."""

THING_MARK = "\ue001"
"""A private-use character that stands for a size or a stamp already taken out of the title."""

PREPOSED = frozenset({"no", "not", "never", "neither", "without", "un", "non", "free of", "free from"})
"""Not-words that come before what they deny; the others ("missing", "gone") can follow it as well."""

BOX_PIECES = tuple(
    f"{box} {piece}"
    for box in ("box", "shoebox")
    for piece in ("lid", "top", "end", "label", "insert", "corner")
)
"""Pieces of the box, whose condition is not the pair's ("box lid yellowed")."""

SET_KINDS = ["box", "tags", "parts"]
"""The kinds that belong to the original set of a pair."""

POSTPOSED = frozenset({"style", "type", "inspired"})
"""Unsure words that bear on what stands before them, whatever follows ("retro style lace up")."""

VERBAL = frozenset({"not", "nicht"})
"""Not-words that can deny what stands before them by an unknown word after them ("not recommended")."""

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
    """A phrase as it is compared, its role, and for mentions and nouns what it means."""

    phrase: str
    role: Role
    kind: str = ""
    value: str = ""
    silhouette: str = ""
    denied: bool = False


@dataclass(frozen=True)
class PhraseBook:
    """`meanings`: one row per phrase and meaning (the fields of Entry). `roles`: one row per phrase.

    `slips` holds the spellings that are one slip away from a word of a mention or noun → that word.
    """

    meanings: pl.DataFrame
    roles: pl.DataFrame
    slips: Mapping[str, str]

    @property
    def patterns(self) -> pl.Expr:
        """Return the phrases, each word between its own two spaces, the longest first."""
        return pl.lit(self.roles["phrase"]).implode()


def phrase_book(market: Market) -> PhraseBook:
    """Return the phrase book of a market file.

    Names count as phrases. An era's name of one word counts only with "run", "era", "series" or "edition" after it
    ("first owner" is no era). Where a phrase is both a mention and another thing, it is the mention.
    """
    rank = {"mention": 0, "noun": 1}
    entries = pl.DataFrame(
        [vars(entry) for entry in _entries(market)],
        schema=dict.fromkeys(("phrase", "role", "kind", "value", "silhouette"), pl.String)
        | {"denied": pl.Boolean},
    )
    compared = (
        entries.with_columns(phrase=as_compared(pl.col("phrase")))
        .filter(pl.col("phrase") != "")
        .with_columns(_rank=pl.col("role").replace_strict(rank, default=2, return_dtype=pl.Int8))
        .filter(pl.col("_rank") == pl.col("_rank").min().over("phrase"))
        .unique(maintain_order=True)
    )
    preposed = pl.col("phrase").is_in(_compared_list(PREPOSED))
    roles = (
        compared.unique("phrase", keep="first", maintain_order=True)
        .select(
            pl.concat_str(pl.lit(" "), pl.col("phrase").str.replace_all(" ", "  "), pl.lit(" ")).alias(
                "phrase"
            ),
            "role",
            preposed=preposed,
            verbal=pl.col("phrase").is_in(_compared_list(VERBAL)),
            postposed=pl.col("phrase").is_in(_compared_list(POSTPOSED)),
            of_set=pl.col("kind").is_in(SET_KINDS),
            names_maker=pl.col("kind") == "maker",
            lasting_fact=~pl.col("kind").is_in([*SET_KINDS, "treatments"]),
        )
        .sort(pl.col("phrase").str.len_chars(), "phrase", descending=[True, False])
    )
    meanings = compared.filter(pl.col("role").is_in(["mention", "noun"])).select(
        pl.concat_str(pl.lit(" "), pl.col("phrase").str.replace_all(" ", "  "), pl.lit(" ")).alias("phrase"),
        "kind",
        "value",
        "silhouette",
        "denied",
    )
    named = roles.filter(pl.col("role").is_in(["mention", "noun"]))
    slips = slips_of(_words_of(named), known=set(_words_of(roles)))
    return PhraseBook(meanings, roles, slips)


def _words_of(phrases: pl.DataFrame) -> list[str]:
    """Return the words of the phrases as they are compared."""
    return (
        phrases["phrase"]
        .str.extract_all(r"[^ ]+")
        .explode(empty_as_null=True)
        .unique()
        .drop_nulls()
        .to_list()
    )


def as_compared(text: pl.Expr) -> pl.Expr:
    """Return a phrase without case, accents and punctuation, its words parted by one space ("2nd" is "second")."""
    kept = rf"[^\p{{L}}\p{{N}}{GRADE_MARK}{THING_MARK}|,?]+"
    return (
        folded(plain(text))
        .str.replace_all(r"['’]s\b", "")
        .str.replace_all(kept, " ")
        .str.strip_chars()
        .pipe(with_ordinals)
    )


def with_ordinals(text: pl.Expr) -> pl.Expr:
    """Return a folded text with 1st, 2nd and 3rd as words."""
    ordinals = {"1st": "first", "2nd": "second", "3rd": "third"}
    for written, word in ordinals.items():
        text = text.str.replace_all(rf"\b{written}\b", word)
    return text


def _compared_list(phrases: Iterable[str]) -> list[str]:
    """Return phrases as they are compared."""
    return (
        pl.Series("phrase", list(phrases), dtype=pl.String)
        .to_frame()
        .select(as_compared(pl.col("phrase")))["phrase"]
        .to_list()
    )


def _entries(market: Market) -> Iterator[Entry]:
    """Yield every phrase of the market file and of the grammar."""
    words = market.words
    for silhouette in market.silhouettes:
        yield Entry(silhouette.maker, "mention", "maker", silhouette.maker)
        for phrase in (silhouette.name, *silhouette.phrases):
            yield Entry(phrase, "mention", "silhouette", silhouette.name)
        for colourway in silhouette.colourways:
            for phrase in (colourway.name, *colourway.phrases):
                yield Entry(phrase, "mention", "colourway", colourway.name, silhouette.name)
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
    for overlay, phrases in words.overlay.items():
        yield from (Entry(phrase, "mention", "overlay", overlay) for phrase in phrases)
    for lasting, phrases in words.lasting.items():
        yield from (Entry(phrase, "mention", "lasting", lasting) for phrase in phrases)
    for box, phrases in words.box.items():
        yield from _of_the_set("box", box, phrases, words.not_words)
    for tags, phrases in words.tags.items():
        yield from _of_the_set("tags", tags, phrases, words.not_words)
    yield from _loose_tags(market)
    yield from (Entry(phrase, "mention", "box piece") for phrase in BOX_PIECES)
    for phrase, grade in words.grades.items():
        yield Entry(phrase, "mention", "grade word", str(grade))
    for grade in GRADES:
        yield Entry(f"{GRADE_MARK}{round(grade * 2)}", "mention", "grade", str(grade))
    yield Entry(THING_MARK, "mention", "thing")
    for phrase in words.restored_words:
        yield from _with_prefix(Entry(phrase, "mention", "restored"), market)
    for phrase in words.flaw_words:
        yield Entry(phrase, "mention", "flaw")
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
    for phrase in phrases:
        nouns = _denied_nouns(phrase, not_words)
        if value == "none" and nouns:
            forms = nouns | {_plural(noun) for noun in nouns}
            yield from (Entry(noun, "noun", kind, "") for noun in sorted(forms))
            yield from (Entry(f"{noun}less", "mention", kind, value) for noun in sorted(nouns))
        else:
            yield Entry(phrase, "mention", kind, value)


def _denied_nouns(phrase: str, not_words: tuple[str, ...]) -> set[str]:
    """Return what a phrase denies ("no tags" → "tags"); empty where it denies nothing."""
    denials = {*_compared_list(not_words), "not included", "not present"}
    compared = _compared_list([phrase])[0]
    return {compared.removeprefix(f"{word} ") for word in denials if compared.startswith(f"{word} ")} | {
        compared.removesuffix(f" {word}") for word in denials if compared.endswith(f" {word}")
    }


def _loose_tags(market: Market) -> Iterator[Entry]:
    """Yield the entries of tags that are there but not on the pair ("hang tags removed but kept")."""
    said = market.words.tags
    denied = (_denied_nouns(phrase, market.words.not_words) for phrase in said.get("none", ()))
    bare = {form for nouns in denied for noun in nouns for form in (noun, _plural(noun))}
    for noun in sorted(tag_nouns(bare, _compared_list(said.get("attached", ())))):
        yield from (Entry(f"{noun} {how}", "mention", "tags", "loose") for how in LOOSE)


def _plural(noun: str) -> str:
    """Return the English plural of a noun ("box" → "boxes", "tag" → "tags")."""
    return f"{noun}es" if noun.endswith(("s", "x", "ch", "sh")) else f"{noun}s"
