"""Levels: how the values of a term's columns become the text keys by which its effects are known."""

from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError, suggest
from pipeline.hedonic.specification import Term

SEPARATOR = "\x1f"
"""Stands between the parts of a cell's key; no trade word holds it."""

UNKNOWN = "unknown"
"""The level of a null: a level of its own. An empty text is another."""


def level_text(column: str, dtype: pl.DataType) -> pl.Expr:
    """Return the expression that writes a column's values as level text.

    Whole floats are written as whole numbers, so that 9 and 9.0 are one level; null and NaN are
    `UNKNOWN`.
    """
    value = pl.col(column)
    if dtype.is_decimal():
        value, dtype = value.cast(pl.Float64), pl.Float64()
    if dtype.is_float():
        value = value.fill_nan(None)
        whole = pl.when(value == value.floor()).then(value.cast(pl.Int64, strict=False).cast(pl.String))
        return pl.coalesce(whole, value.cast(pl.String), pl.lit(UNKNOWN))
    return value.cast(pl.String).fill_null(UNKNOWN)


def require_columns(frame: pl.DataFrame, columns: tuple[str, ...], needed_by: str) -> None:
    """Raise FitError for the first of `columns` that the frame lacks."""
    for column in columns:
        if column not in frame.columns:
            raise FitError(
                f"{needed_by} reads the column {column!r}, which the records do not have",
                suggest(column, frame.columns),
            )


def level_keys(frame: pl.DataFrame, term: Term) -> pl.Series:
    """Return one key a row (String, never null): the text of the term's cell."""
    return frame.select(cell_text(frame, term)).to_series()


def cell_text(frame: pl.DataFrame, term: Term) -> pl.Expr:
    """Return the expression, named as the term, that writes the key of its cell."""
    require_columns(frame, term.columns, f"the term {term.name!r}")
    parts = [level_text(column, frame.schema[column]) for column in term.columns]
    joined = parts[0] if len(parts) == 1 else pl.concat_str(parts, separator=SEPARATOR)
    return joined.alias(term.name)


def is_many(frame: pl.DataFrame, term: Term) -> bool:
    """Return whether a row may carry several levels of the term (its first column is a list)."""
    return isinstance(frame.schema[term.columns[0]], pl.List)


class Flags(NamedTuple):
    """The flags that records carry, one after another: `rows` and `slots` (flags,) say where, `keys` which."""

    rows: NDArray[np.int64]
    slots: NDArray[np.int64]
    keys: pl.Series


def flag_keys(frame: pl.DataFrame, term: Term) -> Flags:
    """Return the flags that records carry.

    A null list is the flag `UNKNOWN`; an empty list carries none; a flag named twice counts once.
    """
    require_columns(frame, term.columns, f"the term {term.name!r}")
    first = term.columns[0]
    flags = pl.col(first)
    if not is_many(frame, term):
        raise FitError(
            f"the term {term.name!r} needs a list in the column {first!r}, which is {frame.schema[first]}",
            "give a list of flags a record, or declare the term `level`.",
        )
    wide = frame.select(
        flags.list.eval(pl.element().cast(pl.String))
        .fill_null(pl.lit([UNKNOWN], dtype=pl.List(pl.String)))
        .alias("key"),
        *(level_text(column, frame.schema[column]).alias(f"of {column}") for column in term.columns[1:]),
    )
    carried = wide["key"]
    if carried.explode(empty_as_null=False).has_nulls():  # rarely; to look costs a hundredth of dropping none
        carried = carried.list.drop_nulls()
    carried = carried.list.unique(maintain_order=True)
    counts = carried.list.len().to_numpy().astype(np.int64)
    rows = np.repeat(np.arange(frame.height), counts)
    slots = np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)
    keys = carried.explode(empty_as_null=False)
    if len(term.columns) > 1:
        others = (wide[f"of {column}"].gather(rows).alias(column) for column in term.columns[1:])
        keys = pl.select(pl.concat_str(keys, *others, separator=SEPARATOR)).to_series()
    return Flags(rows, slots, keys)


def readable(key: str) -> str:
    """Return a key as it stands in tables: the parts of a cell joined by ×."""
    return key.replace(SEPARATOR, " × ")


def numeric_axis(frame: pl.DataFrame, term: Term) -> pl.Series:
    """Return the term's first column as Float64, null where it is not known.

    Raises FitError where it is neither a number nor null, or infinite, with the count.
    """
    require_columns(frame, term.columns, f"the term {term.name!r}")
    column = frame.get_column(term.columns[0])
    if not (column.dtype.is_numeric() or column.dtype == pl.Null):
        raise FitError(
            f"the term {term.name!r} orders the column {column.name!r}, which is {column.dtype}",
            "a curve and a walk read a number; declare the term `level` or `pooled` otherwise.",
        )
    axis = column.cast(pl.Float64).fill_nan(None)
    endless = int(axis.is_infinite().sum())
    if endless:
        raise FitError(
            f"{endless} values of the column {column.name!r} are infinite", "correct or leave them out."
        )
    return axis
