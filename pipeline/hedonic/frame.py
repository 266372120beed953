"""A frame in memory as a source of records."""

import hashlib
from collections.abc import Mapping, Sequence

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError
from pipeline.hedonic.arrays import fill
from pipeline.hedonic.coding import Coding
from pipeline.hedonic.levels import require_columns
from pipeline.hedonic.source import BEHIND, STAGE, Batch, Coded, Columns, Stages
from pipeline.hedonic.specification import Specification

Array = NDArray[np.float64]

IDENTITY = "record_id"
"""The column by which a sample chooses records, where there is one; else the record's number."""


class FrameSource:
    """The rows of a frame; a record's number is that of its row."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self.frame = frame
        self._levels: dict[tuple[Columns, Stages], pl.DataFrame] = {}

    @property
    def schema(self) -> Mapping[str, pl.DataType]:
        """Return the columns and their dtypes."""
        return self.frame.schema

    def check(self, specification: Specification) -> None:
        """Raise FitError where there are no records, or a response or weight cannot be used, with the first row."""
        response_of(self.frame, specification)
        weights_of(self.frame, specification)

    def levels(self, sets: Sequence[Columns], stages: Stages) -> list[pl.DataFrame]:
        """Return the distinct combinations of each set of columns and stages, with the records behind each."""
        unknown = [columns for columns in sets if (columns, stages) not in self._levels]
        staged = self.frame.with_columns(self._stage(stages)) if unknown else self.frame
        for columns in unknown:
            self._levels[columns, stages] = staged.group_by(*columns, STAGE).len(BEHIND)
        return [self._levels[columns, stages] for columns in sets]

    def code(self, coding: Coding, specification: Specification, stages: Stages) -> Coded:
        """Return the records coded."""
        batch = self.code_frame(coding, specification, stages)
        counts = np.bincount(batch.stage, minlength=stages.number).tolist()
        return fill([batch], len(coding.supers), counts, weighted=batch.weights is not None)

    def code_frame(self, coding: Coding, specification: Specification, stages: Stages) -> Batch:
        """Return the rows coded, in their own order."""
        parts = [
            self._part(factor.columns, factor.levels.with_columns(pl.Series("part", part)))
            for factor, part in zip(coding.factors, coding.parts_of_levels(), strict=True)
        ]
        numbers = np.zeros((self.frame.height, len(coding.supers)), dtype=np.int32)
        for place, packed in enumerate(coding.supers):
            for factor in packed.factors:
                numbers[:, place] += parts[factor]
        return Batch(
            numbers,
            response_of(self.frame, specification),
            weights_of(self.frame, specification),
            self._stages(stages),
            np.arange(self.frame.height),
        )

    def sample(self, most: int) -> pl.DataFrame:
        """Return all rows, or `most` of them: those whose identity has the smallest MD5."""
        if self.frame.height <= most:
            return self.frame
        named = (
            self.frame[IDENTITY].cast(pl.String)
            if IDENTITY in self.frame.columns
            else range(self.frame.height)
        )
        digests = np.array([hashlib.md5(str(name).encode()).hexdigest() for name in named])
        return self.frame[np.sort(np.argpartition(digests, most - 1)[:most])]

    def rows(self, numbers: Sequence[int]) -> pl.DataFrame:
        """Return the rows with these numbers."""
        return self.frame[list(numbers)]

    def _stage(self, stages: Stages) -> pl.Series:
        return pl.Series(STAGE, self._stages(stages))

    def _stages(self, stages: Stages) -> NDArray[np.int16]:
        if not stages.origins:
            return np.zeros(self.frame.height, dtype=np.int16)
        periods = self.frame[stages.column].to_numpy()
        return np.searchsorted(stages.origins, periods, side="right").astype(np.int16)

    def _part(self, columns: tuple[str, ...], levels: pl.DataFrame) -> NDArray[np.int32]:
        """Return what each row's level adds to the number of its super-factor."""
        if not columns:
            return np.repeat(levels["part"].to_numpy(), self.frame.height)
        rows = self.frame.select(columns)
        part = rows.join(levels, on=columns, how="left", nulls_equal=True, maintain_order="left")["part"]
        if part.null_count():
            raise FitError(
                f"{part.null_count()} records have a level that the design does not know",
                "find the levels over all partitions first.",
            )
        return part.to_numpy()


def response_of(frame: pl.DataFrame, specification: Specification) -> Array:
    """Return the response; raises FitError where it is missing, null, NaN or infinite."""
    return _numbers(frame, specification.response, "the response")


def weights_of(frame: pl.DataFrame, specification: Specification) -> Array | None:
    """Return the weights or None; raises FitError where one is null, infinite or not positive."""
    if specification.weights is None:
        return None
    weights = _numbers(frame, specification.weights, "the weights")
    wrong = int(np.sum(weights <= 0))
    if wrong:
        raise FitError(
            f"{wrong} weights in the column {specification.weights!r} are not positive",
            "leave those records out instead.",
        )
    return weights


def _numbers(frame: pl.DataFrame, column: str, role: str) -> Array:
    require_columns(frame, (column,), role)
    values = frame.get_column(column)
    if not values.dtype.is_numeric():
        raise FitError(f"{role} column {column!r} is {values.dtype}", "give numbers (log price).")
    if not len(values):
        raise FitError(f"{role} column {column!r} has no rows", "add some records.")
    numbers = values.cast(pl.Float64).fill_null(float("nan")).to_numpy().astype(np.float64)
    wrong = np.flatnonzero(~np.isfinite(numbers))
    if len(wrong):
        first = values[int(wrong[0])]
        raise FitError(
            f"{len(wrong)} of {len(numbers)} values in {role} column {column!r} are null, NaN or infinite "
            f"(the first in row {int(wrong[0]) + 1}: {first})",
            "leave those records out or correct them.",
        )
    return numbers
