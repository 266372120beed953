"""Names that the market file knows: find what a stated cell means among names and phrases."""

import json
from collections.abc import Iterable, Mapping
from typing import Protocol

import polars as pl

from pipeline.alike import fold, fold_all
from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.lookup import look_up
from pipeline.schema import CLOSED_FIELDS as CLOSED_FIELDS
from pipeline.schema import COLUMN

NOTHING = ("none", "-", "–", "/", "nil")
"""What a list cell holds when somebody looked and found nothing, beside the market file's not-words."""


class Phrased(Protocol):
    """Anything with a name and phrases."""

    @property
    def name(self) -> str:
        """The name."""

    @property
    def phrases(self) -> tuple[str, ...]:
        """The other words for it."""


def known_words(items: Iterable[Phrased]) -> dict[str, str]:
    """Return folded name or phrase → name; a phrase of two names means neither."""
    items = list(items)
    names = dict(zip(fold_all(item.name for item in items), (item.name for item in items), strict=True))
    phrases = [(phrase, item.name) for item in items for phrase in item.phrases]
    return names | _only_once(phrases, without=names)


def allowed_words(allowed: Iterable[str], words: Mapping[str, Iterable[str]] | None = None) -> dict[str, str]:
    """Return folded allowed value, or the market file's word for it → allowed value."""
    allowed = list(allowed)
    values = dict(zip(fold_all(allowed), allowed, strict=True))
    phrases = [(phrase, value) for value, several in (words or {}).items() for phrase in several]
    return values | _only_once(phrases, without=values)


def closed_words(market: Market, field: str) -> dict[str, str]:
    """Return folded word → allowed value of one of CLOSED_FIELDS."""
    words: Mapping[str, tuple[str, ...]] = getattr(market.words, field)
    return allowed_words(COLUMN[field].allowed or (), words)


def silhouette_words(market: Market) -> dict[str, str]:
    """Return folded name, phrase, or maker with name → name of every silhouette."""
    silhouettes = market.silhouettes
    words = known_words(silhouettes)
    with_maker = [(f"{silhouette.maker} {silhouette.name}", silhouette.name) for silhouette in silhouettes]
    return words | _only_once(with_maker, without=words)


def maker_words(market: Market) -> dict[str, str]:
    """Return folded name → name of every maker."""
    return allowed_words(sorted({silhouette.maker for silhouette in market.silhouettes}))


def _only_once(phrases: list[tuple[str, str]], *, without: Mapping[str, str]) -> dict[str, str]:
    meanings: dict[str, set[str]] = {}
    for folded_phrase, (_, meaning) in zip(fold_all(phrase for phrase, _ in phrases), phrases, strict=True):
        meanings.setdefault(folded_phrase, set()).add(meaning)
    return {
        phrase: next(iter(names))
        for phrase, names in meanings.items()
        if len(names) == 1 and phrase not in without
    }


def read_names(texts: pl.Series, words: Mapping[str, str]) -> pl.DataFrame:
    """Return one row a distinct text: text, value String (null where no word says it)."""
    return distinct_texts(texts, "text").select(
        "text",
        value=fold(pl.col("text")).replace_strict(dict(words), default=None, return_dtype=pl.String),
    )


def read_colourways(silhouettes: pl.Series, texts: pl.Series, market: Market) -> pl.Series:
    """Return, row by row, the colourway that the text means under the row's silhouette.

    Where no silhouette is known it is one of the colourways that every silhouette may have.
    """
    under = (("", market.colourways), *((one.name, one.colourways) for one in market.silhouettes))
    known = pl.DataFrame(
        [(name, *words) for name, colourways in under for words in known_words(colourways).items()],
        schema={"silhouette": pl.String, "folded": pl.String, "value": pl.String},
        orient="row",
    )
    forms = distinct_texts(texts, "text").with_columns(folded=fold(pl.col("text")))
    rows = look_up(texts, forms).with_columns(silhouettes.cast(pl.String).fill_null("").alias("silhouette"))
    return rows.join(known, on=["silhouette", "folded"], how="left", maintain_order="left")["value"]


def read_name_lists(
    texts: pl.Series, words: Mapping[str, str], not_words: Iterable[str], mark: str
) -> pl.DataFrame:
    """Read cells that list names.

    A cell is a JSON array or separated by `mark`; brackets that hold no JSON are text like any other. Returns one
    row a distinct text: text, names List(String), sorted, each once (empty where the cell says that there is
    nothing), unread String (the parts that no word says, joined; null where all are known). A member of an array
    that is no name (a number, an object, another array) is such a part.
    """
    cells = distinct_texts(texts, "text")
    bracketed = cells.filter(pl.col("text").str.contains(r"^\s*\[(?s:.*)\]\s*$"))["text"]
    arrays = {text: members for text in bracketed if (members := _members(text)) is not None}
    decoded = pl.DataFrame(
        {"text": list(arrays), "part": list(arrays.values())},
        schema={"text": pl.String, "part": pl.List(pl.String)},
    )
    parted = cells.join(decoded, on="text", how="left", maintain_order="left").with_columns(
        part=pl.coalesce("part", pl.col("text").str.split(mark))
    )
    nothing = set(fold_all([*NOTHING, *not_words]))
    said = fold(pl.col("part"))
    parts = (
        parted.explode("part", empty_as_null=True)
        .with_columns(pl.col("part").str.strip_chars())
        .with_columns(
            value=said.replace_strict(dict(words), default=None, return_dtype=pl.String),
            nothing=said.is_in(nothing) | (pl.col("part").str.len_bytes() == 0) | pl.col("part").is_null(),
        )
    )
    return (
        parts.group_by("text", maintain_order=True)
        .agg(
            names=pl.col("value").drop_nulls().unique().sort(),
            unread=pl.col("part").filter(pl.col("value").is_null() & ~pl.col("nothing")),
        )
        .with_columns(unread=pl.when(pl.col("unread").list.len() > 0).then(pl.col("unread").list.join("; ")))
    )


def _members(text: str) -> list[str | None] | None:
    """Return the members of a JSON array as text (what is no text is written as JSON); None where it is no array."""
    try:
        members: list[object] = json.loads(text, parse_int=str, parse_float=str, parse_constant=str)
        return [_as_text(member) for member in members]
    except (ValueError, RecursionError):
        return None


def _as_text(member: object) -> str | None:
    """Return a member of an array as text; half a character that JSON writes alone becomes the replacement sign."""
    if member is None:
        return None
    text = member if isinstance(member, str) else json.dumps(member, ensure_ascii=False)
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
