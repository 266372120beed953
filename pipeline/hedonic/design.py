"""The design: the levels of every term found in the records, and each record's place among them.

All levels are kept here, reference levels too: a design row is a handful of cell numbers. Cell 0 is the
intercept, which every record carries; the cell `Design.size` means "nothing".
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.levels import SEPARATOR, UNKNOWN, flag_keys, is_many, level_keys, numeric_axis
from pipeline.hedonic.specification import Specification, Term

ORDERED = ("curve", "walk")

SLOPE = "per unit"
"""The key of a linear term's one effect."""


@dataclass(frozen=True)
class Factor:
    """The levels of one term, in order.

    `start` is the cell number of the first level. `rows` counts the records that carry each level.
    `axis` (ordered terms) is the place of each level, NaN for the unknown; `groups` the text of the
    other columns of an ordered interaction, one entry a level. `references` are the local numbers of
    the levels with effect nought. A linear term has one cell, which a record carries `value` times;
    `centre` and `spread` are its mean and standard deviation.
    """

    term: Term
    start: int
    keys: tuple[str, ...]
    rows: NDArray[np.int64]
    many: bool = False
    axis: NDArray[np.float64] | None = None
    groups: tuple[str, ...] | None = None
    references: tuple[int, ...] = ()
    centre: float = 0.0
    spread: float = 0.0

    @property
    def size(self) -> int:
        """Return the number of levels."""
        return len(self.keys)

    @property
    def stop(self) -> int:
        """Return the cell number after the last level."""
        return self.start + len(self.keys)


@dataclass(frozen=True)
class Design:
    """The specification with the levels of every term. `size` counts the cells, intercept included."""

    specification: Specification
    factors: tuple[Factor, ...]

    @property
    def size(self) -> int:
        """Return the number of cells."""
        return self.factors[-1].stop if self.factors else 1


@dataclass(frozen=True)
class Cells:
    """The cells of the records: `numbers` (rows, slots) int32; each slot belongs to one factor.

    `owners` (slots,) holds the factor's number, -1 for the intercept. A slot that a row does not use
    holds the design's size. `values` (slots,) gives how often a record carries the cell, None for once.
    """

    numbers: NDArray[np.int32]
    owners: NDArray[np.int32]
    values: tuple[NDArray[np.float64] | None, ...]


def find_levels(frame: pl.DataFrame, specification: Specification) -> Design:
    """Find the levels of every term in the records.

    `frame` may also hold one row for each distinct combination, with the count in `rows_behind`.
    Raises FitError for a column that is missing or of the wrong type.
    """
    factors: list[Factor] = []
    start = 1
    for term in specification.terms:
        factor = _find_factor(frame, term, start)
        factors.append(factor)
        start = factor.stop
    return Design(specification, tuple(factors))


def _find_factor(frame: pl.DataFrame, term: Term, start: int) -> Factor:
    if term.kind == "linear":
        return _find_linear(frame, term, start)
    if term.kind in ORDERED:
        return _find_ordered(frame, term, start)
    if term.kind == "flags" or (frame.width and _first_is_list(frame, term)):
        if term.kind == "level":
            raise FitError(
                f"the term {term.name!r} is a `level`, but the column {term.columns[0]!r} holds lists",
                "declare it `flags` (one effect a flag) or `pooled`.",
            )
        counts = _count(flag_keys(frame, term).get_column("key"))
        return Factor(term, start, counts[0], counts[1], many=True)
    keys, rows = _count(level_keys(frame, term))
    references = (_reference(term, keys, rows),) if term.kind == "level" and keys else ()
    return Factor(term, start, keys, rows, references=references)


def _first_is_list(frame: pl.DataFrame, term: Term) -> bool:
    return term.columns[0] in frame.columns and is_many(frame, term)


def _count(keys: pl.Series) -> tuple[tuple[str, ...], NDArray[np.int64]]:
    counted = keys.alias("key").value_counts(name="rows").sort("key")
    return tuple(counted["key"].to_list()), counted["rows"].to_numpy().astype(np.int64)


def _reference(term: Term, keys: tuple[str, ...], rows: NDArray[np.int64]) -> int:
    """Return the local number of the reference level: the one asked for, else the most frequent."""
    if term.reference is None:
        return int(np.argmax(rows))
    if term.reference not in keys:
        raise FitError(
            f"the term {term.name!r} has the reference {term.reference!r}, which no record carries",
            "name a level that occurs, or leave `reference` out.",
        )
    return keys.index(term.reference)


def _find_ordered(frame: pl.DataFrame, term: Term, start: int) -> Factor:
    """Find the levels of a curve or walk, in order within each group, the unknown last."""
    axis = numeric_axis(frame, term)
    group = level_keys(frame, Term(term.name, "level", term.columns[1:])) if term.columns[1:] else None
    places = pl.DataFrame({"axis": axis, "group": [""] * len(axis) if group is None else group})
    places = places.with_columns(level_keys(frame, term).alias("key"))
    counted = places.group_by("group", "axis").agg(pl.col("key").first(), pl.len().alias("rows"))
    counted = counted.sort("group", "axis", nulls_last=True)
    values = counted["axis"].fill_null(float("nan")).to_numpy().astype(np.float64)
    groups = tuple(counted["group"].to_list())
    keys = tuple(counted["key"].to_list())
    rows = counted["rows"].to_numpy().astype(np.int64)
    references = _ordered_references(term, values, np.array(groups), keys, rows)
    return Factor(term, start, keys, rows, False, values, None if group is None else groups, references)


def _find_linear(frame: pl.DataFrame, term: Term, start: int) -> Factor:
    """Find the slope of a linear term, and a level for records whose number is not known."""
    axis = numeric_axis(frame, term)
    known, unknown = len(axis) - axis.null_count(), axis.null_count()
    keys = (SLOPE, UNKNOWN) if unknown else (SLOPE,)
    rows = np.array([known, unknown][: len(keys)], dtype=np.int64)
    known_values = axis.drop_nulls().to_numpy()
    centre, spread = (float(known_values.mean()), float(known_values.std())) if known else (0.0, 0.0)
    return Factor(term, start, keys, rows, centre=centre, spread=spread)


def _ordered_references(
    term: Term,
    axis: NDArray[np.float64],
    groups: NDArray[np.str_],
    keys: tuple[str, ...],
    rows: NDArray[np.int64],
) -> tuple[int, ...]:
    """Return the pinned level of each group: a walk's last, a curve's nearest to the reference."""
    known = ~np.isnan(axis)
    if not known.any():
        return ()
    if term.kind == "walk":
        target = float(axis[known].max())
    elif term.reference is not None:
        first = [key.split(SEPARATOR)[0] for key in keys]
        if term.reference not in first:
            raise FitError(
                f"the term {term.name!r} has the reference {term.reference!r}, which no record carries",
                "name a level that occurs, or leave `reference` out.",
            )
        target = float(axis[first.index(term.reference)])
    else:
        places, inverse = np.unique(axis[known], return_inverse=True)
        target = float(places[np.argmax(np.bincount(inverse, weights=rows[known]))])
    pinned: list[int] = []
    for group in np.unique(groups[known]):
        members = np.flatnonzero(known & (groups == group))
        pinned.append(int(members[np.argmin(np.abs(axis[members] - target))]))
    return tuple(pinned)


def place(frame: pl.DataFrame, design: Design) -> Cells:
    """Return the cells of the records in which the design's levels were found."""
    owners: list[int] = [-1]
    columns: list[NDArray[np.int32]] = [np.zeros(frame.height, dtype=np.int32)]
    values: list[NDArray[np.float64] | None] = [None]
    for number, factor in enumerate(design.factors):
        if factor.term.kind == "linear":
            axis = numeric_axis(frame, factor.term)
            cell = np.where(axis.is_null().to_numpy(), factor.start + 1, factor.start).astype(np.int32)
            columns.append(cell)
            values.append(axis.fill_null(1.0).to_numpy())
            owners.append(number)
            continue
        if factor.many:
            block = _place_flags(frame, factor, design.size)
            columns.extend(block.T)
        else:
            columns.append(_cell_of(level_keys(frame, factor.term), factor, design.size))
        added = len(columns) - len(owners)
        owners.extend([number] * added)
        values.extend([None] * added)
    return Cells(np.stack(columns, axis=1), np.array(owners, dtype=np.int32), tuple(values))


def _cell_of(keys: pl.Series, factor: Factor, nothing: int) -> NDArray[np.int32]:
    cells = np.arange(factor.start, factor.stop, dtype=np.int32)
    if not factor.keys:
        return np.full(len(keys), nothing, dtype=np.int32)
    found = keys.replace_strict(list(factor.keys), cells, default=nothing, return_dtype=pl.Int32)
    return found.to_numpy().astype(np.int32)


def _place_flags(frame: pl.DataFrame, factor: Factor, nothing: int) -> NDArray[np.int32]:
    long = flag_keys(frame, factor.term)
    slots = 1 + int(long["slot"].cast(pl.Int64).max() or 0)  # type: ignore[arg-type]
    block = np.full((frame.height, slots), nothing, dtype=np.int32)
    block[long["row"].to_numpy(), long["slot"].to_numpy()] = _cell_of(long["key"], factor, nothing)
    return block


__all__ = ["UNKNOWN", "Cells", "Design", "Factor", "find_levels", "place"]
