"""Coded records as arrays, in memory or in a file that stands for it, stage by stage."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import Any
from weakref import finalize

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.source import Batch, Coded, Keep, Sums, Tally

BATCH = 8192
"""So many records are worked on at a time: few enough for what is made of them to stay in the processor's cache."""

IN_MEMORY = 2_000_000
"""More coded records than this lie in a file, which the system holds in memory as far as there is room."""


class Room:
    """Where arrays of so many records are kept: in memory, or in files of a temporary folder that goes with them."""

    def __init__(self, records: int) -> None:
        self.records = records
        self._folder: Path | None = None
        self._made = 0
        if records > IN_MEMORY:
            self._folder = Path(mkdtemp(prefix="pairband-"))
            finalize(self, rmtree, self._folder, ignore_errors=True)

    def empty(self, columns: tuple[int, ...], dtype: Any) -> NDArray[Any]:
        """Return an array of (records, *columns) to be filled."""
        shape = (self.records, *columns)
        if self._folder is None:
            return np.empty(shape, dtype=dtype)
        self._made += 1
        return np.memmap(self._folder / str(self._made), dtype=dtype, mode="w+", shape=shape)


@dataclass(frozen=True)
class CodedArrays:
    """Coded records in the order of their stages, and within one in that of their source."""

    whole: Batch
    room: Room

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
                    kept.append(self.room.empty(array.shape[1:], array.dtype))
                kept[number][start:stop] = array
            start = stop
        return replace(self, whole=replace(self.whole, kept=tuple(kept)))

    def _batches(self) -> Iterator[Batch]:
        for start in range(0, len(self.whole.row), BATCH):
            yield self.whole.taken(slice(start, start + BATCH))


def fill(batches: Iterable[Batch], supers: int, stages: Sequence[int], *, weighted: bool) -> CodedArrays:
    """Return the records of batches as arrays; `stages` counts those of each stage."""
    room = Room(int(sum(stages)))
    whole = Batch(
        room.empty((supers,), np.int32),
        room.empty((), np.float64),
        room.empty((), np.float64) if weighted else None,
        room.empty((), np.int16),
        room.empty((), np.int64),
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
    return CodedArrays(whole, room)
