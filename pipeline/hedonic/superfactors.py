"""Super-factors: the columns of a model packed into a few numbers, so that a scan counts few pairs.

A factor here is the set of columns that one term (or several, one within the other) reads; its levels
are their distinct combinations. Factors are packed into super-factors of a few hundred cells, whose
pairwise tables hold everything that the cross-products need.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array

from pipeline.hedonic.design import Design, find_factor_cells
from pipeline.hedonic.specification import Specification

Array = NDArray[np.float64]

ROOM = 400
"""The most cells that a super-factor of several factors may have."""


@dataclass(frozen=True)
class ColumnFactor:
    """A set of columns, their distinct combinations (`levels`, one row each), and who reads them.

    `terms` are the numbers of the terms that read these columns. `levels` also holds records_behind.
    """

    columns: tuple[str, ...]
    levels: pl.DataFrame
    terms: tuple[int, ...]


@dataclass(frozen=True)
class SuperFactor:
    """Factors packed into one number: the sum of stride · level number."""

    factors: tuple[int, ...]
    strides: tuple[int, ...]
    size: int


@dataclass(frozen=True)
class Coding:
    """How records become a few numbers: factors, super-factors, and the design's cells of each.

    `carried` holds, for each super-factor, how often each of its numbers carries each design cell; the
    first also carries the intercept.
    """

    design: Design
    factors: tuple[ColumnFactor, ...]
    supers: tuple[SuperFactor, ...]
    carried: tuple[csr_array, ...]


def column_sets(specification: Specification) -> list[tuple[str, ...]]:
    """Return the columns of each factor: those of the terms, without those that lie within another's."""
    sets = [tuple(sorted(set(term.columns))) for term in specification.terms]
    kept: list[tuple[str, ...]] = []
    for columns in sorted(set(sets), key=lambda columns: (-len(columns), columns)):
        if not any(set(columns) <= set(other) for other in kept):
            kept.append(columns)
    return kept


def owner_of(columns: tuple[str, ...], sets: list[tuple[str, ...]]) -> int:
    """Return the number of the first factor that has all of `columns`."""
    return next(number for number, have in enumerate(sets) if set(columns) <= set(have))


def pack(sizes: list[int], room: int = ROOM) -> tuple[SuperFactor, ...]:
    """Pack factors into super-factors of at most `room` cells, largest first, each into the fullest."""
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


def encode(design: Design, factors: tuple[ColumnFactor, ...]) -> Coding:
    """Return the coding of a design whose terms' levels were found among the factors' levels."""
    supers = pack([factor.levels.height for factor in factors])
    alone = [_carried_by(design, factor) for factor in factors]
    carried = []
    for number, packed in enumerate(supers):
        codes = np.arange(packed.size)
        whole = csr_array((packed.size, design.size))
        for member, stride in zip(packed.factors, packed.strides, strict=True):
            whole = whole + alone[member][(codes // stride) % factors[member].levels.height]
        if number == 0:
            ones = (np.ones(packed.size), (codes, np.zeros(packed.size, dtype=np.int64)))
            whole = whole + coo_array(ones, shape=whole.shape).tocsr()
        carried.append(whole)
    return Coding(design, factors, supers, tuple(carried))


def _carried_by(design: Design, factor: ColumnFactor) -> csr_array:
    """Return how often each level of a factor carries each cell (levels, cells)."""
    height = factor.levels.height
    whole = csr_array((height, design.size))
    for term in factor.terms:
        cells, times = find_factor_cells(factor.levels, design.factors[term], design.size)
        rows = np.repeat(np.arange(height), cells.shape[1])
        values = np.ones(cells.size) if times is None else np.repeat(times, cells.shape[1])
        kept = cells.ravel() < design.size
        entries = (values[kept], (rows[kept], cells.ravel()[kept]))
        whole = whole + coo_array(entries, shape=whole.shape).tocsr()
    return whole


def pairs(coding: Coding) -> list[tuple[int, ...]]:
    """Return the pairs of super-factors to be counted (or the only one)."""
    count = len(coding.supers)
    return [(0,)] if count == 1 else list(combinations(range(count), 2))


def gather(coding: Coding, tables: dict[tuple[int, ...], Array]) -> Array:
    """Return X'WX (cells, cells) from the flat table of each pair of super-factors."""
    gram = np.zeros((coding.design.size, coding.design.size))
    counted: set[int] = set()
    for pair, flat in tables.items():
        table = flat.reshape([coding.supers[one].size for one in pair])
        for axis, one in enumerate(pair):
            if one not in counted:
                counted.add(one)
                marginal = table if table.ndim == 1 else table.sum(axis=1 - axis)
                own = coding.carried[one]
                gram += (own.T @ own.multiply(marginal[:, None]).tocsr()).toarray()
        if len(pair) == 2:
            left, right = pair
            block = coding.carried[left].T @ csr_array(table) @ coding.carried[right]
            gram += block.toarray() + block.T.toarray()
    return gram


def gather_totals(coding: Coding, totals: list[Array]) -> Array:
    """Return X'v (cells,) from the sums of v over each super-factor's numbers."""
    summed = np.zeros(coding.design.size)
    for own, sums in zip(coding.carried, totals, strict=True):
        summed += own.T @ sums
    return summed


def super_effects(coding: Coding, effects: Array) -> list[Array]:
    """Return the effect of each super-factor's numbers, from those of the cells (cells,)."""
    return [own @ effects for own in coding.carried]
