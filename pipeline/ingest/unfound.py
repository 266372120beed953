"""Phrases of the market file that no title and no cell can ever say, and grade words that are one word."""

from collections.abc import Iterable, Iterator

import polars as pl

from pipeline.config import Market
from pipeline.ingest.compared import as_compared
from pipeline.ingest.fields import is_list
from pipeline.ingest.grades import grade_phrases
from pipeline.ingest.phrases import phrase_book
from pipeline.ingest.title_text import lift_titles, split_clauses, tokens_of
from pipeline.schema import CLOSED_FIELDS


def phrase_remarks(market: Market) -> tuple[str, ...]:
    """Return in sentences which phrases and map words can never be found, and which grade words collide."""
    return (*_never_found(market), *_map_words_that_never_fit(market), *_colliding_grades(market))


def _never_found(market: Market) -> Iterator[str]:
    """Yield a sentence for each phrase that is not found in a title that holds nothing else."""
    listed = list(_phrases(market))
    phrases = pl.DataFrame(listed, schema=["of", "title"], orient="row").unique(maintain_order=True)
    if phrases.is_empty():
        return
    lifted = lift_titles(phrases.select("title").unique(maintain_order=True)).with_row_index("id")
    tokens = split_clauses(lifted.select("id", "rest")).select(
        "id", tokens=tokens_of(pl.col("clause"), signed=phrase_book(market).signed)
    )
    wanted = pl.format(
        " {} ", as_compared(_grade_words_marked(market)).str.replace_all(" ", "  ", literal=True)
    )
    read = lifted.select("id", "title").join(tokens, on="id", how="left", maintain_order="left")
    found = read.filter(pl.col("tokens").str.contains(wanted, literal=True).fill_null(value=False))["title"]
    for of, phrase in phrases.filter(~pl.col("title").is_in(found.implode())).rows():
        yield (
            f"{of}: the phrase {phrase!r} is never found in a title, which is divided at its signs, or whose sizes, "
            "stamps and grades out of ten are read by themselves; write it without them"
        )


def _grade_words_marked(market: Market) -> pl.Expr:
    """Return the title, a grade word with its signs marked as the phrase book has it."""
    words = list(market.words.grades)
    marked = [one.phrase for one in grade_phrases(market.words.grades)[: len(words)]]
    return pl.col("title").replace(words, marked) if words else pl.col("title")


def _phrases(market: Market) -> Iterator[tuple[str, str]]:
    """Yield every phrase that titles are searched for, with where it stands in the market file."""
    for era in market.eras:
        yield from _with(f"eras: {era.name!r}", era.phrases)
    for kind in ("silhouettes", "treatments", "defects", "parts"):
        for item in getattr(market, kind):
            yield from _with(f"{kind}: {item.name!r}", (item.name, *item.phrases))
    for colourway in market.colourways:
        yield from _with("colourways", (colourway.name, *colourway.phrases))
    for silhouette in market.silhouettes:
        for colourway in market.own_colourways(silhouette):
            yield from _with(f"the colourways of {silhouette.name!r}", (colourway.name, *colourway.phrases))
    words = market.words
    yield from _with("words.grades", words.grades)
    for field in CLOSED_FIELDS:
        for value, phrases in getattr(words, field).items():
            yield from _with(f"words.{field}.{value}", phrases)
    for field in (
        "not_words",
        "restored_words",
        "flaw_words",
        "piece_words",
        "not_yet_words",
        "unsure_words",
    ):
        yield from _with(f"words.{field}", getattr(words, field))


def _with(of: str, phrases: Iterable[str]) -> Iterator[tuple[str, str]]:
    yield from ((of, phrase) for phrase in phrases)


def _map_words_that_never_fit(market: Market) -> Iterator[str]:
    for name, export_map in market.maps.items():
        for field, words in export_map.words.items():
            if field not in export_map.columns:
                yield f"maps.{name}.words.{field}: the map reads no column as {field}, so its words are never used"
            elif is_list(field):
                yield from (
                    f"maps.{name}.words.{field}: the word {word!r} holds {export_map.list_mark!r}, which divides a "
                    "list, so no entry of one is ever that word"
                    for word in words
                    if export_map.list_mark in word
                )


def _colliding_grades(market: Market) -> Iterator[str]:
    """Yield a sentence for every two grade words that differ by punctuation only and mean different grades."""
    own = grade_phrases(market.words.grades)[: len(market.words.grades)]
    compared = pl.DataFrame(
        {
            "word": list(market.words.grades),
            "phrase": [one.phrase for one in own],
            "grade": [one.grade for one in own],
        },
        schema={"word": pl.String, "phrase": pl.String, "grade": pl.Float64},
    ).with_columns(as_compared(pl.col("phrase")))
    groups = (
        compared.group_by("phrase", maintain_order=True)
        .agg("word", "grade")
        .filter(pl.col("grade").list.n_unique() > 1)
    )
    for _, words, grades in groups.rows():
        meant = " and ".join(f"{word!r} ({grade:g})" for word, grade in zip(words, grades, strict=True))
        yield f"words.grades: {meant} are one word and different grades; neither is read"
