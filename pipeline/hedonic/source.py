"""A source of records: where they lie, and what a fit may ask of it. It answers sums over records, never the records.

A fit asks for the levels of its columns, and has each record coded as a few numbers; from then on it gives functions
that turn batches of coded records into small sums (tallies). Sums of any parts of the records add up to those of the
whole, so a source may go over them in any order and in any number of places at once. What needs single records (a
calibration, a list of doubtful sales) gets a bounded sample, the same one each time.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.specification import Specification

if TYPE_CHECKING:
    from pipeline.hedonic.coding import Coding

Array = NDArray[np.float64]
Sums = dict[Any, Any]
"""Sums over records by name: arrays, sparse matrices, or anything else that `+` joins."""

Columns = tuple[str, ...]

STAGE = "stage"
BEHIND = "records_behind"


class Stages(NamedTuple):
    """The past origins, rising, of a column of whole numbers (months).

    A record's stage is the number of origins that are not after its period: the fit at origin k knows the records of
    the stages 0 to k, and that of the whole those of all stages.
    """

    column: str
    origins: tuple[int, ...]

    @property
    def number(self) -> int:
        """Return the number of stages."""
        return len(self.origins) + 1


ONE_STAGE = Stages("", ())
"""No past origin: all records are of one stage."""


@dataclass(frozen=True)
class Batch:
    """Some coded records, one entry each (rows,).

    `numbers` (rows, super-factors) holds the number of each super-factor, counted through all of them (see `Coding`);
    `row` the record's number in its source; `kept` what was worked out for each before, arrays of (rows, columns).
    """

    numbers: NDArray[np.int32]
    response: Array
    weights: Array | None
    stage: NDArray[np.int16]
    row: NDArray[np.int64]
    kept: tuple[NDArray[Any], ...] = ()

    def taken(self, rows: Any) -> "Batch":
        """Return some of the records: a slice, or their places."""
        return Batch(
            self.numbers[rows],
            self.response[rows],
            None if self.weights is None else self.weights[rows],
            self.stage[rows],
            self.row[rows],
            tuple(array[rows] for array in self.kept),
        )

    def by_stage(self) -> Iterator[tuple[int, "Batch"]]:
        """Yield (stage, the records of that stage), by rising stage."""
        stage = self.stage
        if not len(stage):
            return
        if np.any(stage[1:] < stage[:-1]):
            order = np.argsort(stage, kind="stable")
            yield from self.taken(order).by_stage()
            return
        cuts = [0, *(np.flatnonzero(np.diff(stage)) + 1).tolist(), len(stage)]
        for start, stop in pairwise(cuts):
            yield int(stage[start]), self if len(cuts) == 2 else self.taken(slice(start, stop))


Tally = Callable[[Iterable[Batch]], Sums]
"""Turns batches of records into sums. It can be pickled, and keeps nothing from one call to the next."""

Keep = Callable[[Batch], tuple[NDArray[Any], ...]]
"""Works out one or more arrays (rows, columns) for a batch of records."""


class Known(Protocol):
    """What a specification may depend on: how many records there are, and the values that a column takes."""

    @property
    def height(self) -> int:
        """Return the number of records."""

    def __getitem__(self, column: str, /) -> pl.Series:
        """Return a column: each of its values once at least."""


class Coded(Protocol):
    """The coded records of a source, which can be gone over again and again; a batch holds them by rising stage."""

    def add_up(self, tally: Tally) -> Sums:
        """Return the sums of a tally over all records."""

    def keep(self, work_out: Keep) -> "Coded":
        """Return the coded records with what a function works out for each, in the place of what was kept before."""


class Source(Protocol):
    """Records, wherever they lie. `schema` gives their columns and dtypes."""

    @property
    def schema(self) -> Mapping[str, pl.DataType]:
        """Return the columns and their dtypes."""

    def check(self, specification: Specification) -> None:
        """Raise FitError where there are no records, or a response or weight cannot be used, with the count."""

    def levels(self, sets: Sequence[Columns], stages: Stages) -> list[pl.DataFrame]:
        """Return the distinct combinations of each set of columns and stages, with the records behind each.

        A frame holds the columns of its set, STAGE and BEHIND. What is not yet known is counted in one pass.
        """

    def code(self, coding: "Coding", specification: Specification, stages: Stages) -> Coded:
        """Return the records coded; raises FitError for a record with a level that the coding does not know."""

    def sample(self, most: int) -> pl.DataFrame:
        """Return all records, or `most` of them where there are more: the same ones each time, in their own order."""

    def rows(self, numbers: Sequence[int]) -> pl.DataFrame:
        """Return the records that have these numbers (`Batch.row`), in this order."""


def refuse_unusable(records: int, wrong: Mapping[str, int]) -> None:
    """Raise FitError where there are no records, or some of a response or weight (by column) cannot be used."""
    if not records:
        raise FitError("there are no records to fit", "add some records.")
    for column, count in wrong.items():
        if count:
            raise FitError(
                f"{count} of {records} values in the column {column!r} cannot be used "
                "(null, NaN, infinite, or a weight that is not positive)",
                "leave those records out or correct them.",
            )


def add(one: Sums, other: Sums) -> Sums:
    """Return the sums of both; what only one of them holds stands as it is."""
    return {name: _plus(one.get(name), other.get(name)) for name in {**one, **other}}


def _plus(one: Any, other: Any) -> Any:
    return other if one is None else one if other is None else one + other
