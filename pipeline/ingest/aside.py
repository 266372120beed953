"""Rows that are no sale of one pair, by the owner's words for them: put aside, and counted apart from errors."""

import re
from collections.abc import Iterator

import polars as pl

from pipeline.alike import fold, fold_all
from pipeline.config import ExportMap, Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.entries import Entry
from pipeline.ingest.faults import FAULT_COLUMNS, no_faults
from pipeline.ingest.headers import resolve_column
from pipeline.ingest.lookup import look_up
from pipeline.ingest.mentions import find_mentions
from pipeline.ingest.phrases import phrase_book
from pipeline.ingest.quantity import SEVERAL_PAIRS, of_several_kinds
from pipeline.ingest.title_text import lift_titles, split_clauses, tokens_of
from pipeline.schema import QUANTITY

NOT_A_PAIR = "(not a pair)"
"""What stands for the field of a row that is put aside."""

ANY_NUMBER = "#"
"""What stands in a phrase for a number of pairs: "# pairs"."""

_KIND = "not a pair"
_IN_WORDS = ("two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "several", "multiple")
_NUMBERS = (*map(str, range(2, 100)), *_IN_WORDS)
_ACCESSORIES = ("laces", "spare laces", "extra laces", "shoelaces", "socks", "insoles", "lace locks")
"""What comes in pairs beside a pair: "with 2 pairs of laces" says nothing of several pairs."""


def rows_aside(
    fields: pl.DataFrame,
    quantities: pl.Series,
    cells: pl.DataFrame,
    export_map: ExportMap,
    market: Market,
    *,
    where: str,
) -> pl.DataFrame:
    """Return FAULT_COLUMNS of the rows that are no sale of a pair, nulls for all others, in order.

    A row is put aside where a cell of a column in the map's `skip` is one of its words, or where the title says one
    of `not_a_pair` and does not deny it ("no replica"); and where its `quantities` of pairs are of several kinds.
    """
    if not (export_map.skip or market.words.not_a_pair or QUANTITY in export_map.columns):
        return no_faults(fields.height)
    found = pl.DataFrame(schema=dict.fromkeys(("value", "what"), pl.String)).clear(fields.height)
    for heading, words in export_map.skip.items():
        column = cells[resolve_column(cells.columns, heading, where=where)].alias("cell")
        named = column.to_frame().select(pl.when(fold(pl.col("cell")).is_in(fold_all(words))).then("cell"))[
            "cell"
        ]
        found = _filled(found, named, named)
    titles = look_up(fields["title"], titles_of_no_pair(fields["title"], market))["not_a_pair"]
    found = _filled(
        found, fields["title"].zip_with(titles.is_not_null(), pl.Series([None], dtype=pl.String)), titles
    )
    mixed = of_several_kinds(fields, quantities, market)
    of_no_pair = pl.col("what").is_not_null()
    return found.with_columns(mixed.alias("mixed"), fields["title"]).select(
        pl.when(of_no_pair)
        .then(pl.lit(NOT_A_PAIR))
        .when(pl.col("mixed").is_not_null())
        .then(pl.lit(SEVERAL_PAIRS))
        .alias(FAULT_COLUMNS[0]),
        pl.when(of_no_pair)
        .then("value")
        .when(pl.col("mixed").is_not_null())
        .then("title")
        .alias(FAULT_COLUMNS[1]),
        pl.coalesce(pl.format("not a pair: {}", "what"), "mixed").alias(FAULT_COLUMNS[2]),
    )


def _filled(found: pl.DataFrame, value: pl.Series, what: pl.Series) -> pl.DataFrame:
    return found.with_columns(
        pl.coalesce("value", value.alias("value")), pl.coalesce("what", what.alias("what"))
    )


def titles_of_no_pair(titles: pl.Series, market: Market) -> pl.DataFrame:
    """Return title, not_a_pair (the owner's phrase) String of the distinct titles that say they are of no one pair."""
    nothing = pl.DataFrame(schema=dict.fromkeys(("title", "not_a_pair"), pl.String))
    phrases = market.words.not_a_pair
    if not phrases:
        return nothing
    perhaps = pl.col("title").str.contains_any(_needles(phrases), ascii_case_insensitive=True)
    distinct = distinct_texts(titles, "title").filter(perhaps)
    if distinct.is_empty():
        return nothing
    book = phrase_book(market, tuple(_entries(market)))
    lifted = lift_titles(distinct).with_row_index("title_id")
    clauses = split_clauses(lifted.select("rest", id="title_id")).with_row_index("clause_id")
    tokens = clauses.select(id="clause_id", tokens=tokens_of(pl.col("clause"), signed=book.signed))
    said = (
        find_mentions(tokens, book)
        .filter(pl.col("said") == "yes")
        .join(book.meanings.filter(pl.col("kind") == _KIND), on="phrase", maintain_order="left")
        .join(clauses.select("id", "clause_id"), left_on="id", right_on="clause_id", maintain_order="left")
        .unique("id_right", keep="first", maintain_order=True)
    )
    return lifted.join(said, left_on="title_id", right_on="id_right").select("title", not_a_pair="value")


def _needles(phrases: tuple[str, ...]) -> list[str]:
    """Return for each phrase the longest run of plain letters in it, which a title that says it has as well."""
    runs = ((phrase, re.findall("[A-Za-z]+", phrase)) for phrase in phrases)
    return sorted({max(found, key=len, default=phrase) for phrase, found in runs})


def _entries(market: Market) -> Iterator[Entry]:
    counted = False
    for phrase in market.words.not_a_pair:
        if ANY_NUMBER not in phrase:
            yield Entry(phrase, "mention", _KIND, phrase)
            continue
        counted = True
        yield from (
            Entry(phrase.replace(ANY_NUMBER, number), "mention", _KIND, phrase) for number in _NUMBERS
        )
    if not counted:
        return
    own = (one for part in market.parts for one in (part.name, *part.phrases))
    for thing in dict.fromkeys((*_ACCESSORIES, *own)):
        yield from (Entry(f"{number} pairs of {thing}", "mention", "thing") for number in _NUMBERS)
