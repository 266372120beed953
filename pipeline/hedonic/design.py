"""The design: the levels of every term found in the records, and each record's place among them.

All levels are kept here, reference levels too: a design row is a handful of cell numbers. Cell 0 is the
intercept, which every record carries; the cell `Design.size` means "nothing".
"""

from collections.abc import Sequence
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


FEW = 2048
"""Up to so many keys are looked up one by one: the engine takes longer to begin."""


@dataclass(frozen=True)
class Factor:
    """The levels of one term, in order.

    `start` is the cell number of the first level. `rows` counts the records that carry each level.
    `axis` (ordered terms) is the place of each level, NaN for the unknown; `groups` the text of the
    other columns of an ordered interaction, one entry a level. `references` are the local numbers of
    the levels with effect zero. A linear term has one cell, which a record carries `value` times;
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


def find_levels_among(
    frames: Sequence[pl.DataFrame], specification: Specification, counted: str | None
) -> Design:
    """Find the levels of every term in a frame of its own: the records, or their distinct values.

    `counted` names the column that says how many records stand behind a row; None counts each row once.
    """
    names = [term.name for term in specification.terms]
    for name in names:
        if names.count(name) > 1:
            raise FitError(f"two terms are called {name!r}", "give each term a name of its own.")
    factors: list[Factor] = []
    start = 1
    for frame, term in zip(frames, specification.terms, strict=True):
        behind = None if counted is None else frame.get_column(counted)
        factor = _find_factor(frame, term, start, behind)
        factors.append(factor)
        start = factor.stop
    return Design(specification, tuple(factors))


def _find_factor(frame: pl.DataFrame, term: Term, start: int, behind: pl.Series | None) -> Factor:
    if term.kind == "linear":
        return _find_linear(frame, term, start, behind)
    if term.kind in ORDERED:
        return _find_ordered(frame, term, start, behind)
    if term.kind == "flags" or _first_is_list(frame, term):
        if term.kind == "level":
            raise FitError(
                f"the term {term.name!r} is a `level`, but the column {term.columns[0]!r} holds lists",
                "declare it `flags` (one effect a flag) or `pooled`.",
            )
        flags = flag_keys(frame, term)
        carried = None if behind is None else behind.gather(flags.rows)
        keys, rows = _count(flags.keys, carried)
        return Factor(term, start, keys, rows, many=True)
    keys, rows = _count(level_keys(frame, term), behind)
    references = (_reference(term, keys, rows),) if term.kind == "level" and keys else ()
    return Factor(term, start, keys, rows, references=references)


def _first_is_list(frame: pl.DataFrame, term: Term) -> bool:
    return term.columns[0] in frame.columns and is_many(frame, term)


def _count(keys: pl.Series, behind: pl.Series | None) -> tuple[tuple[str, ...], NDArray[np.int64]]:
    counted = pl.DataFrame({"key": keys, "rows": _behind(behind, len(keys))})
    counted = counted.group_by("key").agg(pl.col("rows").sum()).sort("key")
    return tuple(counted["key"].to_list()), counted["rows"].to_numpy().astype(np.int64)


def _behind(behind: pl.Series | None, rows: int) -> pl.Series:
    return pl.repeat(1, rows, dtype=pl.Int64, eager=True) if behind is None else behind.cast(pl.Int64)


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


def _find_ordered(frame: pl.DataFrame, term: Term, start: int, behind: pl.Series | None) -> Factor:
    """Find the levels of a curve or walk, in order within each group, the unknown last."""
    axis = numeric_axis(frame, term)
    group = level_keys(frame, Term(term.name, "level", term.columns[1:])) if term.columns[1:] else None
    places = pl.DataFrame(
        {
            "axis": axis,
            "group": pl.repeat("", len(axis), dtype=pl.String, eager=True) if group is None else group,
            "key": level_keys(frame, term),
            "rows": _behind(behind, len(axis)),
        }
    )
    counted = places.group_by("group", "axis").agg(pl.col("key").first(), pl.col("rows").sum())
    counted = counted.sort("group", "axis", nulls_last=True)
    values = counted["axis"].fill_null(float("nan")).to_numpy().astype(np.float64)
    groups = tuple(counted["group"].to_list())
    keys = tuple(counted["key"].to_list())
    rows = counted["rows"].to_numpy().astype(np.int64)
    references = _ordered_references(term, values, np.array(groups), keys, rows)
    return Factor(term, start, keys, rows, False, values, None if group is None else groups, references)


def _find_linear(frame: pl.DataFrame, term: Term, start: int, behind: pl.Series | None) -> Factor:
    """Find the slope of a linear term, and a level for records whose number is not known."""
    axis = numeric_axis(frame, term)
    rows = _behind(behind, len(axis)).to_numpy()
    known = axis.is_not_null().to_numpy()
    counts = [int(rows[known].sum()), int(rows[~known].sum())]
    keys = (SLOPE, UNKNOWN) if counts[1] else (SLOPE,)
    centre, spread = 0.0, 0.0
    if counts[0]:
        places = axis.drop_nulls().to_numpy()
        centre = float(np.average(places, weights=rows[known]))
        spread = float(np.sqrt(np.average((places - centre) ** 2, weights=rows[known])))
    found = np.array(counts[: len(keys)], dtype=np.int64)
    return Factor(term, start, keys, found, centre=centre, spread=spread)


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


def find_factor_cells(
    frame: pl.DataFrame, factor: Factor, nothing: int
) -> tuple[NDArray[np.int32], NDArray[np.float64] | None]:
    """Return (cells (rows, slots), how often each row carries them or None for once) of one term."""
    if factor.term.kind == "linear":
        axis = numeric_axis(frame, factor.term)
        cell = np.where(axis.is_null().to_numpy(), factor.start + 1, factor.start).astype(np.int32)
        return cell[:, None], axis.fill_null(1.0).to_numpy()
    if factor.many:
        return _place_flags(frame, factor, nothing), None
    return _cell_of(level_keys(frame, factor.term), factor, nothing)[:, None], None


def _cell_of(keys: pl.Series, factor: Factor, nothing: int) -> NDArray[np.int32]:
    local = local_numbers(keys, factor)
    return np.where(local < 0, nothing, factor.start + local).astype(np.int32)


def local_numbers(keys: pl.Series, factor: Factor) -> NDArray[np.int64]:
    """Return the local number of each key, -1 where the design does not have it."""
    # mutation: equivalent, no keys, or no levels, find nothing by looking either
    if not factor.keys or not len(keys):
        return np.full(len(keys), -1, dtype=np.int64)
    if len(keys) <= FEW:  # mutation: equivalent, few and many differ in time only
        number = {key: place for place, key in enumerate(factor.keys)}
        return np.array([number.get(key, -1) for key in keys], dtype=np.int64)
    numbers = np.arange(factor.size, dtype=np.int64)
    return keys.replace_strict(list(factor.keys), numbers, default=-1, return_dtype=pl.Int64).to_numpy()


def _place_flags(frame: pl.DataFrame, factor: Factor, nothing: int) -> NDArray[np.int32]:
    flags = flag_keys(frame, factor.term)
    width = 1 + int(flags.slots.max(initial=0))
    block = np.full((frame.height, width), nothing, dtype=np.int32)
    block[flags.rows, flags.slots] = _cell_of(flags.keys, factor, nothing)
    return block
