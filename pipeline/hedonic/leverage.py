"""Leverages of coded records: the share of each in its own fitted value."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.hedonic.inverse import Inverse
from pipeline.hedonic.source import Batch

Array = NDArray[np.float64]
Places = NDArray[np.int64]

WIDEST = 1 << 20
"""A pair of super-factors has no table of more entries than this …"""

ENTRIES = 4
"""… nor of more than so many a record: to make it would take longer than to work out what the records need."""


@dataclass(frozen=True)
class Leverages:
    """x'Vx of coded records x, from what their numbers carry of the coefficients.

    `carried` (numbers, p); `places` are where the numbers of each super-factor begin; `inverse` is V. A super-factor of
    few numbers enters by tables, made once; the others by the coefficients that each record carries.
    """

    carried: csr_array
    places: NDArray[np.int32]
    inverse: Inverse
    records: int

    def of(self, batch: Batch) -> Array:
        """Return x'Vx (rows,) of coded records."""
        numbers = batch.numbers
        total = np.zeros(len(numbers))
        codes = {one: numbers[:, one].astype(np.intp) - int(self.places[one]) for one in self._narrow}
        for (one, other), table in self._tables.items():
            total += table.take(codes[one] * self._sizes[other] + codes[other])
        for one, own in self._alone.items():
            total += own.take(codes[one])
        if self._wide:
            places, times = self._slots_of(numbers, self._wide)
            total += self.inverse.quadratic(places, times)
            if self._narrow:
                total += 2 * self.inverse.bilinear(places, times, *self._slots_of(numbers, self._narrow))
        return total

    @cached_property
    def _sizes(self) -> NDArray[np.int64]:
        return np.diff(self.places).astype(np.int64)

    @cached_property
    def _narrow(self) -> list[int]:
        most = min(WIDEST, ENTRIES * self.records)
        return [number for number, size in enumerate(self._sizes) if size**2 <= most]

    @cached_property
    def _wide(self) -> list[int]:
        return [number for number in range(len(self._sizes)) if number not in self._narrow]

    @cached_property
    def _parts(self) -> dict[int, csr_array]:
        return {one: self.carried[self.places[one] : self.places[one + 1]] for one in range(len(self._sizes))}

    @cached_property
    def _slots(self) -> dict[int, tuple[Places, Array]]:
        return {one: _padded(own) for one, own in self._parts.items()}

    @cached_property
    def _alone(self) -> dict[int, Array]:
        return {one: self.inverse.quadratic(*self._slots[one]) for one in self._narrow}

    @cached_property
    def _tables(self) -> dict[tuple[int, int], Array]:
        """Twice the part of each pair of narrow super-factors, flat."""
        tables = {}
        for place, one in enumerate(self._narrow):
            for other in self._narrow[place + 1 :]:
                tables[one, other] = 2 * np.ravel(self.inverse.between(self._parts[one], self._parts[other]))
        return tables

    def _slots_of(self, numbers: NDArray[np.int32], supers: list[int]) -> tuple[Places, Array]:
        """Return (positions, values), each (rows, slots), of what records carry by some super-factors."""
        codes = [numbers[:, one] - self.places[one] for one in supers]
        both = [self._slots[one] for one in supers]
        return (
            np.concatenate([places[code] for (places, _), code in zip(both, codes, strict=True)], axis=1),
            np.concatenate([values[code] for (_, values), code in zip(both, codes, strict=True)], axis=1),
        )


def _padded(own: csr_array) -> tuple[Places, Array]:
    """Return (positions, values), each (rows, slots), of a sparse matrix; an empty slot is placed after the last."""
    counts = np.diff(own.indptr)
    rows = np.repeat(np.arange(len(counts)), counts)
    slots = np.arange(len(rows)) - np.repeat(own.indptr[:-1], counts)
    positions = np.full((len(counts), int(counts.max(initial=0))), own.shape[1], dtype=np.int64)
    values = np.zeros(positions.shape)
    positions[rows, slots], values[rows, slots] = own.indices, own.data
    return positions, values
