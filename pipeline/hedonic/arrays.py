"""Coded records as arrays, in memory or in files, stage by stage."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import prod
from tempfile import TemporaryFile
from typing import Any
from weakref import finalize

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.source import Batch, Coded, Keep, Sums, Tally

BATCH = 8192
"""So many records are worked on at a time: few enough for what is made of them to stay in the processor's cache."""

IN_MEMORY = 2_000_000
"""More coded records than this lie in files, and are read some at a time."""


class OnDisk:
    """An array in a temporary file, which goes with it: records are written and read by slices, and none is held."""

    def __init__(self, shape: tuple[int, ...], dtype: Any) -> None:
        self._shape, self._dtype = shape, np.dtype(dtype)
        self._bytes = self._dtype.itemsize * prod(shape[1:])
        self._file = TemporaryFile()  # noqa: SIM115  (it is closed with the array)
        finalize(self, self._file.close)

    def __len__(self) -> int:
        """Return the number of records."""
        return self._shape[0]

    def __getitem__(self, rows: slice) -> NDArray[Any]:
        """Return the records of a slice."""
        start, stop, _ = rows.indices(len(self))
        found = np.empty((max(stop - start, 0), *self._shape[1:]), self._dtype)
        self._file.seek(start * self._bytes)
        self._file.readinto(found.reshape(-1).view(np.uint8).data)
        return found

    def __setitem__(self, rows: slice, values: Any) -> None:
        """Write the records of a slice; one value stands for all of them."""
        start, stop, _ = rows.indices(len(self))
        given = np.broadcast_to(values, (stop - start, *self._shape[1:]))
        self._file.seek(start * self._bytes)
        self._file.write(given.astype(self._dtype).tobytes())


def _room(shape: tuple[int, ...], dtype: Any) -> Any:
    """Return an array to be filled, in memory where it is not too large."""
    return OnDisk(shape, dtype) if shape[0] > IN_MEMORY else np.empty(shape, dtype)


@dataclass(frozen=True)
class CodedArrays:
    """Coded records in the order of their stages, and within one in that of their source."""

    whole: Batch

    def add_up(self, tally: Tally) -> Sums:
        """Return the sums of a tally over all records."""
        return tally(self._batches())

    def keep(self, work_out: Keep) -> Coded:
        """Return the coded records with what a function works out for each."""
        kept: list[NDArray[Any]] = []
        start = 0
        for batch in self._batches():
            stop = start + len(batch.row)
            for number, array in enumerate(work_out(batch)):
                if start == 0:
                    kept.append(_room((len(self.whole.row), *array.shape[1:]), array.dtype))
                kept[number][start:stop] = array
            start = stop
        return replace(self, whole=replace(self.whole, kept=tuple(kept)))

    def _batches(self) -> Iterator[Batch]:
        for start in range(0, len(self.whole.row), BATCH):
            yield self.whole.taken(slice(start, start + BATCH))


def fill(batches: Iterable[Batch], supers: int, stages: Sequence[int], *, weighted: bool) -> CodedArrays:
    """Return the records of batches as arrays; `stages` counts those of each stage."""
    records = int(sum(stages))
    whole = Batch(
        _room((records, supers), np.int32),
        _room((records,), np.float64),
        _room((records,), np.float64) if weighted else None,
        _room((records,), np.int16),
        _room((records,), np.int64),
    )
    places = np.cumsum([0, *stages])
    for batch in batches:
        for stage, some in batch.by_stage():
            span = slice(int(places[stage]), int(places[stage]) + len(some.row))
            places[stage] = span.stop
            whole.numbers[span] = some.numbers
            whole.response[span], whole.stage[span], whole.row[span] = some.response, stage, some.row
            if whole.weights is not None:
                whole.weights[span] = some.weights
    return CodedArrays(whole)
