"""What a reading took for another word of the market file, and the names that it offers where it found none."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import polars as pl

from pipeline.config import Market
from pipeline.ingest.free_text import FROM_NOTES, FROM_TITLE
from pipeline.ingest.near_names import NAME_KINDS, likely_names

FIELDS = (*NAME_KINDS, "grade")
MOST_SAID = 8
"""How many words of a file are named in a run's notes; the rest are counted."""

TAKEN = {"field": pl.String, "written": pl.String, "taken_as": pl.String, "rows": pl.Int64}
LIKELY = {"written": pl.String, "likely": pl.String, "rows": pl.Int64}


@dataclass(frozen=True)
class Taken:
    """A word of a field that was taken for another word of the market file, and in how many rows."""

    field: str
    written: str
    taken_as: str
    rows: int


@dataclass(frozen=True)
class Offered:
    """Words of titles in which no silhouette was found, the silhouette that they look like, and in how many rows."""

    written: str
    likely: str
    rows: int


def words_taken(
    stated: Mapping[str, pl.DataFrame], attributes: pl.DataFrame, texts: pl.DataFrame
) -> pl.DataFrame:
    """Return the words of columns and texts that were taken for others, of the rows whose record they decided.

    The frames are row by row what was stated, what came of it, and what title and notes say. Returns field,
    written, taken_as String, rows Int64, the most first.
    """
    found = [pl.DataFrame(schema={"field": pl.String, "written": pl.String, "taken_as": pl.String})]
    said = pl.concat([texts.select("taken", "notes_taken"), attributes], how="horizontal")
    sources = [
        (
            origin,
            said.filter(pl.col(column).is_not_null())
            .explode(column)
            .with_columns(pl.col(column).struct.unnest()),
        )
        for origin, column in ((FROM_TITLE, "taken"), (FROM_NOTES, "notes_taken"))
    ]
    for field in FIELDS:
        found.append(
            stated[field]
            .filter(pl.col("taken").is_not_null(), pl.col("value").is_not_null())
            .select(pl.lit(field).alias("field"), written="taken", taken_as=pl.col("value").cast(pl.String))
        )
        found += [
            words.filter(pl.col("field") == field, pl.col(f"{field}_origin") == origin).select(
                "field", "written", "taken_as"
            )
            for origin, words in sources
        ]
    return together([pl.concat(found).with_columns(rows=pl.lit(1, dtype=pl.Int64))], TAKEN)


def names_offered(titles: pl.Series, silhouettes: pl.Series, market: Market) -> pl.DataFrame:
    """Return what `likely_names` offers for the titles of the rows that have no silhouette."""
    nameless = titles.filter(silhouettes.is_null()).alias("title").value_counts(name="row_count")
    return likely_names(nameless, market)


def together(frames: Iterable[pl.DataFrame], schema: Mapping[str, type[pl.DataType]]) -> pl.DataFrame:
    """Return the rows of several parts of a file, counted together, the most first."""
    keys = [name for name in schema if name != "rows"]
    counted = pl.concat([pl.DataFrame(schema=dict(schema)), *frames]).group_by(keys).agg(pl.col("rows").sum())
    return counted.select(list(schema)).sort(
        "rows", *keys, descending=[True, *(False for _ in keys)], nulls_last=True
    )


def sentences(taken: pl.DataFrame) -> Iterator[str]:
    """Yield what a run says of the words that were taken for others."""
    for field, written, taken_as, rows in taken.head(MOST_SAID).rows():
        yield f"{_rows(rows)} {field} {written!r}: read as {taken_as}"
    if taken.height > MOST_SAID:
        rest = taken.slice(MOST_SAID)
        yield f"{_rows(int(rest['rows'].sum()))} {rest.height:,} other words that were read as ones near to them"


def _rows(count: int) -> str:
    return "1 row says" if count == 1 else f"{count:,} rows say"
