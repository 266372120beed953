"""Tallies: what one pass over the records adds up, for all fits that advance together. None grows with the records."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.hedonic.coding import Coding
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.source import Batch, Sums, add

Array = NDArray[np.float64]

BINS = 4096
WIDEST = 16.0
"""The histogram of residuals: its bins, and its range in root mean squares."""

DENSE = 1 << 20
"""A table of more cells than this is counted as a sparse one."""

SPARSELY = 8
"""A batch that fills less than one cell in so many of a table is counted cell by cell."""


@dataclass(frozen=True)
class CountPairs:
    """The cross-products of each stage, and with the response.

    ("pairs", stage) (numbers, numbers), sparse, sums w over the records that carry two numbers, that of the earlier
    super-factor first; ("alone", stage) (numbers,) sums w, ("moment", stage) w·(response − centre), ("squares", stage)
    its square; "rows" counts the records, "least" and "most" are the bounds of the response.
    """

    coding: Coding
    centre: float

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        """Return the sums over batches."""
        sums: Sums = {}
        open_stage, tables = -1, self._tables()
        for batch in batches:
            for stage, some in batch.by_stage():
                if stage != open_stage and open_stage >= 0:
                    sums = add(sums, {("pairs", open_stage): tables.counted()})
                if stage != open_stage:
                    open_stage, tables = stage, self._tables()
                centred = some.response - self.centre
                weighted = centred if some.weights is None else centred * some.weights
                tables.add(some.numbers, some.weights)
                weights = np.ones(len(centred)) if some.weights is None else some.weights
                both = summed(some.numbers, np.stack([weights, weighted], axis=1), self.coding.size)
                own: Sums = {("alone", stage): both[:, 0], ("moment", stage): both[:, 1]}
                own["squares", stage] = float(np.sum(weighted * centred))
                own["rows", stage] = len(centred)
                own["least", stage] = _Least(float(some.response.min()))
                own["most", stage] = _Least(-float(some.response.max()))
                sums = add(sums, own)
        return add(sums, {("pairs", open_stage): tables.counted()}) if open_stage >= 0 else sums

    def _tables(self) -> "PairTables":
        starts, sizes = self.coding.places[:-1].tolist(), [packed.size for packed in self.coding.supers]
        return PairTables(starts, sizes, self.coding.size)


@dataclass(frozen=True)
class _Least:
    """A number that adds up to the least of all."""

    value: float

    def __add__(self, other: "_Least") -> "_Least":
        return self if self.value <= other.value else other


class PairTables:
    """How often records carry each pair of numbers of different groups, being counted.

    A record has one number of each group; `starts` says where the numbers of each begin, `sizes` how many there are,
    and `size` how many numbers there are in all.
    """

    def __init__(self, starts: Sequence[int], sizes: Sequence[int], size: int) -> None:
        self._starts, self._sizes = np.array(starts, dtype=np.int64), list(sizes)
        self._dense: dict[tuple[int, int], Array] = {}
        self._sparse = csr_array((size, size))

    def add(self, numbers: NDArray[np.integer[Any]], weights: Array | None) -> None:
        """Count records by their numbers (rows, groups), each by its weight, or once."""
        sizes, wide = self._sizes, []
        codes = numbers.astype(np.intp) - self._starts
        for one, other in combinations(range(len(sizes)), 2):
            if sizes[one] * sizes[other] > DENSE:
                wide.append((one, other))
                continue
            both = codes[:, one] * sizes[other] + codes[:, other]
            table = self._dense.setdefault((one, other), np.zeros(sizes[one] * sizes[other]))
            if len(both) * SPARSELY < len(table):
                np.add.at(table, both, 1.0 if weights is None else weights)
            else:
                table += np.bincount(both, weights, len(table))
        if wide:
            ones, others = (np.concatenate([numbers[:, pair[axis]] for pair in wide]) for axis in (0, 1))
            times = np.tile(np.ones(len(codes)) if weights is None else weights, len(wide))
            self._sparse = self._sparse + csr_array((times, (ones, others)), shape=self._sparse.shape)

    def counted(self) -> csr_array:
        """Return the weight of each pair of numbers (numbers, numbers), that of the earlier group first."""
        parts = [[np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)]]
        for (one, other), table in self._dense.items():
            found = np.flatnonzero(table)
            rows, columns = np.divmod(found, self._sizes[other])
            parts.append([table[found], rows + self._starts[one], columns + self._starts[other]])
        times, rows, columns = (np.concatenate([part[axis] for part in parts]) for axis in range(3))
        return csr_array(self._sparse + csr_array((times, (rows, columns)), shape=self._sparse.shape))


@dataclass(frozen=True)
class Effects:
    """What fits that advance together say of a record: the effects of its numbers, whose sum is its fitted value.

    `of_numbers` (numbers, fits); `last` (fits,) is the last stage that each fit knows, rising. A record of a later
    stage is none of that fit's: the fits that know those of a stage are the last ones.
    """

    of_numbers: Array
    last: NDArray[np.int64]

    def first(self, stage: int) -> int:
        """Return the place of the first fit that knows records of a stage."""
        return int(np.searchsorted(self.last, stage))

    def fitted(self, batch: Batch, first: int) -> Array:
        """Return the fitted values (rows, fits from `first` on)."""
        effects = np.ascontiguousarray(self.of_numbers[:, first:])
        total: Array = carriers(batch.numbers, len(effects)) @ effects
        return total

    def residuals(self, batch: Batch, first: int) -> Array:
        """Return the residuals (rows, fits from `first` on)."""
        return batch.response[:, None] - self.fitted(batch, first)


@dataclass(frozen=True)
class SumScores:
    """The sums of one round of re-weighting, fit by fit.

    "totals" (numbers, fits) is the sum of w·weight·residual/κ over each number, "squares" that of
    w·(weight·residual/κ)², "spread" that of w·weight·residual² (fits,).
    """

    effects: Effects
    scale: Array
    robust: Robust

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        """Return the sums over batches."""
        fits = len(self.scale)
        totals = np.zeros(self.effects.of_numbers.shape)
        squares, spread = np.zeros(fits), np.zeros(fits)
        for batch in batches:
            for stage, some in batch.by_stage():
                first = self.effects.first(stage)
                if first == fits:
                    continue
                left = self.effects.residuals(some, first)
                weight = self.robust.weights(_rooted(some, left) / self.scale[first:])
                weighted = weight * left
                counted = weighted if some.weights is None else weighted * some.weights[:, None]
                squares[first:] += np.einsum("nf,nf->f", counted, weighted)
                spread[first:] += np.einsum("nf,nf->f", counted, left)
                totals[:, first:] += summed(some.numbers, counted, len(totals))
        kappa = self.robust.kappa
        return {"totals": totals / kappa, "squares": squares / kappa**2, "spread": spread}


@dataclass(frozen=True)
class CountSizes:
    """The histogram of |residual| · root weight of each fit ("sizes", (fits, BINS)), so many root mean squares wide."""

    effects: Effects
    root_mean_square: Array

    def __call__(self, batches: Iterable[Batch]) -> Sums:
        """Return the sums over batches."""
        fits = len(self.root_mean_square)
        counts = np.zeros((fits, BINS))
        width = WIDEST * self.root_mean_square / BINS
        for batch in batches:
            for stage, some in batch.by_stage():
                first = self.effects.first(stage)
                size = np.abs(_rooted(some, self.effects.residuals(some, first))) / width[first:]
                places = np.minimum(size, BINS - 1).astype(np.intp) + BINS * np.arange(fits - first)
                counts[first:] += np.bincount(places.ravel(), minlength=BINS * (fits - first)).reshape(
                    -1, BINS
                )
        return {"sizes": counts}


def middle_sizes(counts: Array, root_mean_square: Array) -> Array:
    """Return the median |residual| of each fit (fits,), from its histogram."""
    middles = np.empty(len(counts))
    for fit, own in enumerate(counts):
        reached = np.cumsum(own)
        middle = int(np.searchsorted(reached, reached[-1] / 2))
        below = reached[middle - 1] if middle else 0.0
        middles[fit] = middle + (reached[-1] / 2 - below) / own[middle]
    widths: Array = middles * WIDEST * root_mean_square / BINS
    return widths


def gather(carried: csr_array, alone: Array, pairs: csr_array) -> csr_array:
    """Return X'WX (cells, cells), sparse, from the weights of numbers and of pairs, and what numbers carry."""
    across = carried.T @ (pairs @ carried)
    own = carried.T @ carried.multiply(alone[:, None]).tocsr()
    return csr_array(across + across.T + own)


def carriers(numbers: NDArray[np.int32], size: int) -> csr_array:
    """Return which numbers each record carries (rows, size), once each."""
    rows, supers = numbers.shape
    starts = supers * np.arange(rows + 1, dtype=np.int32)
    return csr_array((np.ones(rows * supers), numbers.ravel(), starts), shape=(rows, size))


def summed(numbers: NDArray[np.int32], values: Array, size: int) -> Array:
    """Return the sums of values (rows, fits) over the records of each number (size, fits)."""
    sums: Array = carriers(numbers, size).T @ values
    return sums


def _rooted(batch: Batch, left: Array) -> Array:
    return left if batch.weights is None else left * np.sqrt(batch.weights)[:, None]
