"""The flags of records while they are gathered: one text a row, since a list a row takes many times as long."""

import polars as pl

from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.lookup import look_up

_BETWEEN = "\x1f"


def flag_text(*flags: str | pl.Expr) -> pl.Expr:
    """Return the flags of a row that are not null, or texts of several of them, as one text."""
    return pl.concat_str(*flags, separator=_BETWEEN, ignore_nulls=True)


def flag_lists(texts: pl.Series) -> pl.Series:
    """Return the flags in each text (see `flag_text`) as a list, sorted, each once."""
    flags = pl.col("text").str.extract_all(f"[^{_BETWEEN}]+").list.unique().list.sort()
    return look_up(texts, distinct_texts(texts, "text").with_columns(flags=flags))["flags"]
