"""Lines of several pairs: so many sales of one pair each, where they are pairs of one kind."""

import polars as pl

from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.lookup import look_up
from pipeline.ingest.mentions import find_mentions
from pipeline.ingest.phrases import phrase_book
from pipeline.ingest.sizes import read_sizes
from pipeline.ingest.title_text import lift_titles, split_clauses, tokens_of

SEVERAL_PAIRS = "(several pairs)"
"""What stands for the field of a row that is put aside because its pairs are not of one kind."""

MOST_PAIRS = 100
"""Pairs of one kind in a line; more are a typing error or another column."""

_WHOLE = r"^([+-]?\d{1,9})(?:[.,]0+)?$"
_NUMBERED = ("lot_ref", "stock_ref")


def read_quantities(texts: pl.Series) -> pl.DataFrame:
    """Return one row a distinct text: text, quantity Int64, quantity_reason String (why it cannot be one)."""
    cells = distinct_texts(texts, "text").with_columns(
        quantity=pl.col("text").str.strip_chars().str.extract(_WHOLE).cast(pl.Int64)
    )
    count = pl.col("quantity")
    reason = (
        pl.when(count.is_null())
        .then(pl.lit("not a number of pairs"))
        .when(count == 0)
        .then(pl.lit("a line of no pair"))
        .when(count.abs() > MOST_PAIRS)
        .then(pl.lit(f"more than {MOST_PAIRS} pairs in one line"))
    )
    return cells.with_columns(quantity_reason=reason)


def of_several_kinds(fields: pl.DataFrame, quantities: pl.Series, market: Market) -> pl.Series:
    """Return why the pairs of a line are not of one kind, String; null for one pair, and for pairs of one kind.

    They are not where the title names two silhouettes, or the cell of the size holds several sizes.
    """
    several = (quantities > 1).fill_null(value=False)
    if not several.any():
        return pl.Series([None], dtype=pl.String).new_from_index(0, fields.height)
    lines = fields.filter(several)
    named = look_up(lines["title"], _silhouettes_named(lines["title"], market))["silhouettes"]
    sizes = look_up(lines["size_label"], read_sizes(lines["size_label"], system=None))["foot_mm"]
    numbers = lines["size_label"].str.count_matches(r"\d+(?:[.,]\d+)?")
    reasons = pl.select(
        pl.when(named > 1)
        .then(pl.lit("several pairs: the title names several silhouettes"))
        .when((numbers > 1) & sizes.is_null())
        .then(pl.lit("several pairs: of several sizes"))
    ).to_series()
    places = pl.DataFrame({"place": several.arg_true(), "reason": reasons})
    rows = pl.DataFrame({"place": pl.int_range(fields.height, eager=True).cast(pl.UInt32)})
    return rows.join(places, on="place", how="left", maintain_order="left")["reason"]


def _silhouettes_named(titles: pl.Series, market: Market) -> pl.DataFrame:
    """Return title, silhouettes: how many different ones each distinct title names."""
    book = phrase_book(market)
    lifted = lift_titles(distinct_texts(titles, "title")).with_row_index("title_id")
    clauses = split_clauses(lifted.select("rest", id="title_id")).with_row_index("clause_id")
    tokens = clauses.select(id="clause_id", tokens=tokens_of(pl.col("clause"), signed=book.signed))
    named = (
        find_mentions(tokens, book)
        .join(book.meanings.filter(pl.col("kind") == "silhouette"), on="phrase")
        .join(clauses.select("id", "clause_id"), left_on="id", right_on="clause_id")
        .group_by("id_right")
        .agg(silhouettes=pl.col("value").n_unique())
    )
    return lifted.join(named, left_on="title_id", right_on="id_right", how="left").select(
        "title", "silhouettes"
    )


def each_pair(
    staged: pl.DataFrame, cells: pl.Series, quantities: pl.Series
) -> tuple[pl.DataFrame, pl.Series]:
    """Return staged rows and their cells once a pair, numbered from 1 in pair_number.

    The pairs after the first have numbers of their own, such as "12 (2 of 3)", so that no two become one.
    """
    counts = quantities.fill_null(1)
    if not (counts > 1).any():
        return staged, cells
    rows = staged.with_columns(cells.alias("cells"), counts.alias("quantity")).with_columns(
        pair_number=pl.int_ranges(1, pl.col("quantity") + 1)
    )
    pairs = rows.explode("pair_number")
    mark = pl.format(" ({} of {})", "pair_number", "quantity")
    numbered = pairs.with_columns(
        pl.when(pl.col("pair_number") > 1).then(pl.col(name) + mark).otherwise(name).alias(name)
        for name in _NUMBERED
    )
    return numbered.drop("cells", "quantity").with_columns(pl.col("pair_number").cast(pl.Int32)), numbered[
        "cells"
    ]
