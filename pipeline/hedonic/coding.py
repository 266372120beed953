"""Coding: each record as a few numbers, from which the cells of every term follow.

A factor here is the set of columns that one term (or several, one within the other) reads; its levels are their
distinct combinations. Factors are packed into super-factors of a few hundred numbers, whose pairwise tables hold
everything that cross-products need.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.errors import FitError, suggest
from pipeline.hedonic.design import Design, find_factor_cells, find_levels_among
from pipeline.hedonic.source import BEHIND, STAGE, Source, Stages
from pipeline.hedonic.specification import Specification, Term

ROOM = 400
"""The most numbers that a super-factor of several factors may have."""


@dataclass(frozen=True)
class ColumnFactor:
    """A set of columns, their distinct combinations (`levels`, one row each), and the records behind each.

    `behind` (levels, stages) counts the records of each stage.
    """

    columns: tuple[str, ...]
    levels: pl.DataFrame
    behind: NDArray[np.int64]

    def known(self, stage: int) -> pl.DataFrame:
        """Return the levels that records up to a stage carry, with the number of those records (BEHIND)."""
        behind = self.behind[:, : stage + 1].sum(axis=1)
        return self.levels.with_columns(pl.Series(BEHIND, behind)).filter(behind > 0)


@dataclass(frozen=True)
class SuperFactor:
    """Factors packed into one number: the sum of stride · level number."""

    factors: tuple[int, ...]
    strides: tuple[int, ...]
    size: int


@dataclass(frozen=True)
class Coding:
    """How records become a few numbers: factors, packed into super-factors."""

    factors: tuple[ColumnFactor, ...]
    supers: tuple[SuperFactor, ...]

    @cached_property
    def places(self) -> NDArray[np.int32]:
        """Return where the numbers of each super-factor begin, counted through all of them, and where they end."""
        return np.cumsum([0, *(packed.size for packed in self.supers)]).astype(np.int32)

    @property
    def size(self) -> int:
        """Return how many numbers all super-factors have together."""
        return int(self.places[-1])

    def parts_of_levels(self) -> list[NDArray[np.int32]]:
        """Return what each level of each factor adds to the number of its super-factor (levels,), by factor.

        The first factor of a super-factor also adds the place where its numbers begin.
        """
        parts = [np.zeros(0, dtype=np.int32)] * len(self.factors)
        for place, packed in zip(self.places, self.supers, strict=False):
            for position, (factor, stride) in enumerate(zip(packed.factors, packed.strides, strict=True)):
                own = stride * np.arange(self.factors[factor].levels.height) + (place if position == 0 else 0)
                parts[factor] = own.astype(np.int32)
        return parts

    def owner(self, term: Term) -> int | None:
        """Return the number of the first factor that has all columns of a term, or None."""
        have = (
            number for number, factor in enumerate(self.factors) if set(term.columns) <= set(factor.columns)
        )
        return next(have, None)

    def known(self, term: Term, stage: int) -> pl.DataFrame:
        """Return the levels of a term's columns that records up to a stage carry, with those records (BEHIND)."""
        owner = self.owner(term)
        if owner is None:
            raise KeyError(term.name)
        return self.factors[owner].known(stage)

    def design(self, specification: Specification, stage: int) -> Design:
        """Return the design of the records up to a stage."""
        frames = [self.known(term, stage) for term in specification.terms]
        return find_levels_among(frames, specification, BEHIND)

    def carried(self, design: Design, *, intercept: bool = True) -> csr_array:
        """Return how often each number of the super-factors carries each cell of a design (size, cells).

        Those of the first also carry the intercept, where it is wanted. A term over a column that is not coded has no
        part.
        """
        starts = np.cumsum([0, *(factor.levels.height for factor in self.factors)])
        rows, columns, values = [], [], []
        for factor in design.factors:
            owner = self.owner(factor.term)
            if owner is None:
                continue
            cells, times = find_factor_cells(self.factors[owner].levels, factor, design.size)
            own = np.repeat(np.arange(starts[owner], starts[owner + 1]), cells.shape[1])
            once = np.ones(cells.size) if times is None else np.repeat(times, cells.shape[1])
            kept = cells.ravel() < design.size
            rows.append(own[kept])
            columns.append(cells.ravel()[kept])
            values.append(once[kept])
        entries = tuple(np.concatenate(part) if part else np.zeros(0) for part in (rows, columns, values))
        of_levels = csr_array(
            (entries[2], (entries[0].astype(np.int64), entries[1].astype(np.int64))),
            shape=(int(starts[-1]), design.size),
        )
        carried = self._levels_of_numbers @ of_levels
        if intercept:
            first = np.arange(self.places[1])
            ones = (np.ones(len(first)), (first, np.zeros(len(first), dtype=np.int64)))
            carried = carried + csr_array(ones, shape=carried.shape)
        return csr_array(carried)

    @cached_property
    def _levels_of_numbers(self) -> csr_array:
        """Which levels each number of the super-factors stands for (numbers, levels of all factors)."""
        starts = np.cumsum([0, *(factor.levels.height for factor in self.factors)])
        rows, columns = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
        for place, packed in zip(self.places, self.supers, strict=False):
            codes = np.arange(packed.size)
            for member, stride in zip(packed.factors, packed.strides, strict=True):
                rows.append(int(place) + codes)
                columns.append(starts[member] + (codes // stride) % self.factors[member].levels.height)
        joined = np.concatenate(rows), np.concatenate(columns)
        return csr_array((np.ones(len(joined[0])), joined), shape=(self.size, int(starts[-1])))


class KnownLevels:
    """What the records of a source up to a stage are known by, column by column; see `Known`."""

    def __init__(self, source: Source, stages: Stages, stage: int) -> None:
        self._source, self._stages, self._stage = source, stages, stage

    @property
    def height(self) -> int:
        """Return the number of records."""
        return int(self._known(())[BEHIND].sum())

    def __getitem__(self, column: str) -> pl.Series:
        """Return each value of a column once."""
        return self._known((column,))[column].unique()

    def _known(self, columns: tuple[str, ...]) -> pl.DataFrame:
        [found] = self._source.levels([columns], self._stages)
        return found.filter(pl.col(STAGE) <= self._stage)


def find_coding(source: Source, terms: Sequence[Term], stages: Stages) -> Coding:
    """Return the coding of a source's records for some terms.

    Raises FitError for a term over a column that the records do not have.
    """
    for term in terms:
        for column in term.columns:
            if column not in source.schema:
                raise FitError(
                    f"the term {term.name!r} reads the column {column!r}, which the records do not have",
                    suggest(column, list(source.schema)),
                )
    sets = column_sets(terms)
    counted = zip(sets, source.levels(sets, stages), strict=True)
    factors = tuple(_factor(columns, levels, stages) for columns, levels in counted)
    return Coding(factors, pack([factor.levels.height for factor in factors]))


def _factor(columns: tuple[str, ...], counted: pl.DataFrame, stages: Stages) -> ColumnFactor:
    level = pl.struct(columns).rank("dense").cast(pl.Int64) - 1 if columns else pl.lit(0, pl.Int64)
    counted = counted.with_columns(level=level)
    levels = counted.unique("level", keep="any").sort("level").select(columns or "level")
    behind = np.zeros((levels.height, stages.number), dtype=np.int64)
    behind[counted["level"].to_numpy(), counted[STAGE].to_numpy()] = counted[BEHIND].to_numpy()
    return ColumnFactor(columns, levels, behind)


def column_sets(terms: Sequence[Term]) -> list[tuple[str, ...]]:
    """Return the columns of each factor: those of the terms, without those that lie within another's.

    Without terms there is one factor of no columns, of which all records carry the one level.
    """
    sets = {tuple(sorted(set(term.columns))) for term in terms} or {()}
    kept: list[tuple[str, ...]] = []
    for columns in sorted(sets, key=lambda columns: (-len(columns), columns)):
        if not any(set(columns) <= set(other) for other in kept):
            kept.append(columns)
    return kept


def pack(sizes: list[int], room: int = ROOM) -> tuple[SuperFactor, ...]:
    """Pack factors into super-factors of at most `room` numbers, largest first, each into the fullest."""
    boxes: list[tuple[list[int], int]] = []
    for factor in sorted(range(len(sizes)), key=lambda number: -sizes[number]):
        fitting = [box for box, (_, size) in enumerate(boxes) if size * sizes[factor] <= room]
        if fitting:
            fullest = max(fitting, key=lambda box: boxes[box][1])
            members, size = boxes[fullest]
            boxes[fullest] = ([*members, factor], size * sizes[factor])
        else:
            boxes.append(([factor], sizes[factor]))
    packed = []
    for members, size in boxes:
        strides = np.cumprod([1, *(sizes[member] for member in members[:-1])])
        packed.append(SuperFactor(tuple(members), tuple(int(stride) for stride in strides), size))
    return tuple(packed)
