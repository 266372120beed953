"""Records that Spark holds as a source: Spark reads them and adds up, and only small sums come to this process.

The records are coded once, in blocks of arrays (one column of bytes), which Spark keeps on disk. A pass gives
each partition of them to a tally and adds the sums in a tree. A task that fails is done again by Spark, and the sums
are added in the order of the partitions, so that the result is the same.
"""

import pickle
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from typing import Any

import numpy as np
import polars as pl
import pyarrow as pa

from pipeline.errors import FitError
from pipeline.hedonic.arrays import BATCH, fill
from pipeline.hedonic.coding import Coding
from pipeline.hedonic.frame import IDENTITY, FrameSource
from pipeline.hedonic.source import (
    BEHIND,
    STAGE,
    Batch,
    Coded,
    Columns,
    Keep,
    Stages,
    Sums,
    Tally,
    add,
    refuse_unusable,
)
from pipeline.hedonic.specification import Specification

ROW, SET, CODED, PART, SUMS = "record_number", "grouping_set", "coded", "part", "sums"

SUMS_OF_PARTS = f"{PART} long, {SUMS} binary"

BLOCK = 4 * BATCH
"""So many coded records are one block: few enough for Spark to copy at once, enough to cost nothing each."""

BRANCHES = 8
"""The sums of so many partitions are added into one, and so on until no more than these are left."""

MOST_LEVELS = 50_000
"""The most distinct combinations that one term may have: past it the columns are no factors."""


class SparkSource:
    """Records in a Spark frame, each with an identity of its own in the column IDENTITY.

    `schema` gives their columns and dtypes here; `factors` are the columns whose levels will be asked for, which are
    counted together. A record's number is made of the MD5 of its identity, so that it is
    the same however the records are spread.
    """

    def __init__(self, records: Any, schema: Mapping[str, pl.DataType], factors: Sequence[str]) -> None:
        self.records = records
        self._schema = dict(schema)
        self._factors = tuple(factors)
        self._levels: dict[tuple[Columns, Stages], pl.DataFrame] = {}

    @property
    def schema(self) -> Mapping[str, pl.DataType]:
        """Return the columns and their dtypes."""
        return self._schema

    def check(self, specification: Specification) -> None:
        """Raise FitError where there are no records, or a response or weight cannot be used, with the count."""
        from pyspark.sql import functions as sql

        asked = {specification.response: sql.lit(False)}
        if specification.weights is not None:
            asked[specification.weights] = sql.col(specification.weights) <= 0
        counts = [
            sql.count_if(
                sql.col(column).isNull() | sql.isnan(column) | (sql.abs(column) == float("inf")) | also
            ).alias(column)
            for column, also in asked.items()
        ]
        found = self.records.agg(sql.count("*").alias(BEHIND), *counts).first()
        refuse_unusable(found[BEHIND], {column: found[column] for column in asked})

    def levels(self, sets: Sequence[Columns], stages: Stages) -> list[pl.DataFrame]:
        """Return the distinct combinations of each set of columns and stages, with the records behind each.

        Raises FitError where there are too many for a factor.
        """
        asked = dict.fromkeys([*sets, (), *((column,) for column in self._factors)])
        unknown = [columns for columns in asked if (columns, stages) not in self._levels]
        if unknown:
            self._count(unknown, stages)
        found = [self._levels[columns, stages] for columns in sets]
        for columns, counted in zip(sets, found, strict=True):
            if counted.height > MOST_LEVELS and counted.select(columns).n_unique() > MOST_LEVELS:
                raise FitError(
                    f"{' × '.join(columns)} has more than {MOST_LEVELS} distinct values",
                    "round the column to steps.",
                )
        return found

    def _count(self, sets: Sequence[Columns], stages: Stages) -> None:
        """Count the records of each combination of each of some sets of columns, and stages, in one pass."""
        from pyspark.sql import functions as sql

        used = sorted({column for columns in sets for column in columns})
        staged = self.records.select(*used, _stage(stages).alias(STAGE))
        grouped = staged.groupingSets([[*columns, STAGE] for columns in sets], *used, STAGE)
        counted = grouped.agg(sql.count("*").alias(BEHIND), sql.grouping_id().alias(SET))
        most = len(sets) * MOST_LEVELS * stages.number
        found = self._frame(counted.limit(most + 1))
        if found.height > most:
            raise FitError(
                f"the columns {', '.join(used)} have more than {most} combinations of values",
                "round them to steps.",
            )
        for columns in sets:
            left_out = sum(
                2 ** (len(used) - place) for place, column in enumerate(used) if column not in columns
            )
            own = found.filter(pl.col(SET) == left_out).select(*columns, STAGE, BEHIND)
            self._levels[columns, stages] = own

    def code(self, coding: Coding, specification: Specification, stages: Stages) -> Coded:
        """Return the records coded, kept by Spark; raises FitError for a level that the coding does not know."""
        wanted = {column for factor in coding.factors for column in factor.columns} | {specification.response}
        wanted |= {column for column in (specification.weights, stages.column) if column}
        records = self.records.select(*sorted(wanted), _row().alias(ROW))
        coder = _Code(coding, specification, stages, self._dtypes([*wanted]))
        return _kept(records.mapInArrow(coder, f"{CODED} binary"))

    def sample(self, most: int) -> pl.DataFrame:
        """Return all records, or `most` of them: those whose identity has the smallest MD5; by identity."""
        from pyspark.sql import functions as sql

        chosen = self.records.orderBy(sql.md5(sql.col(IDENTITY).cast("string")), IDENTITY).limit(most)
        return self._frame(chosen).sort(IDENTITY)

    def rows(self, numbers: Sequence[int]) -> pl.DataFrame:
        """Return the records that have these numbers, in this order."""
        from pyspark.sql import functions as sql

        wanted = [int(number) for number in numbers]
        numbered = self.records.withColumn(ROW, _row())
        found = self._frame(numbered.filter(sql.col(ROW).isin(wanted)))
        order = pl.DataFrame({ROW: pl.Series(wanted, dtype=pl.Int64)})
        return order.join(found, on=ROW, how="inner", maintain_order="left").drop(ROW)

    def _dtypes(self, columns: Sequence[str]) -> dict[str, pl.DataType]:
        return {column: self._schema[column] for column in columns if column in self._schema}

    def _frame(self, found: Any) -> pl.DataFrame:
        """Bring a small Spark frame here."""
        return _framed(found.toArrow(), self._dtypes(found.columns))


@dataclass(frozen=True)
class SparkCoded:
    """Coded records that Spark keeps: a frame of one column, each value a block of records."""

    blocks: Any
    partitions: int

    def add_up(self, tally: Tally) -> Sums:
        """Return the sums of a tally over all records, those of the partitions added in a tree."""
        parts = self.blocks.mapInArrow(_AddUp(tally), SUMS_OF_PARTS)
        left = self.partitions
        while left > BRANCHES:
            parts = _branched(parts)
            left = -(-left // BRANCHES)
        rows = sorted(parts.collect(), key=lambda row: row[PART])
        return _added(pickle.loads(row[SUMS]) for row in rows)

    def keep(self, work_out: Keep) -> "SparkCoded":
        """Return the coded records with what a function works out for each, kept by Spark."""
        return _kept(self.blocks.mapInArrow(_Keep(work_out), f"{CODED} binary"))


def _kept(blocks: Any) -> SparkCoded:
    """Have Spark make blocks and keep them on disk: the heap of its Java would not hold those of many records.

    What is on disk is read from the memory of the system as far as that has room.
    """
    from pyspark import StorageLevel
    from pyspark.sql import functions as sql

    kept = blocks.persist(StorageLevel.DISK_ONLY)
    last = kept.select(sql.spark_partition_id().alias(PART)).agg(sql.max(PART)).first()[0]
    return SparkCoded(kept, 0 if last is None else last + 1)


def _branched(parts: Any) -> Any:
    """Return the sums of each BRANCHES partitions, which follow each other, added into one."""
    from pyspark.sql import functions as sql

    branch = sql.floor(sql.col(PART) / BRANCHES)
    return parts.groupBy(branch.alias("branch")).applyInArrow(_add_branch, SUMS_OF_PARTS)


def _add_branch(parts: pa.Table) -> pa.Table:
    """Return one row of the sums of some partitions, added in the order of the partitions."""
    ordered = parts.sort_by(PART)
    sums = _added(pickle.loads(part) for part in ordered[SUMS].to_pylist())
    return pa.Table.from_batches([_sums_of_part(ordered[PART][0].as_py() // BRANCHES, sums)])


def _added(parts: Iterable[Sums]) -> Sums:
    return reduce(add, parts, {})


def _sums_of_part(part: int, sums: Sums) -> pa.RecordBatch:
    return pa.RecordBatch.from_pydict({PART: [part], SUMS: [pickle.dumps(sums)]})


@dataclass(frozen=True)
class _Code:
    """Code the records of a partition: rows of columns → blocks of coded records, by rising stage."""

    coding: Coding
    specification: Specification
    stages: Stages
    dtypes: Mapping[str, pl.DataType]

    def __call__(self, batches: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
        parts: list[Batch] = []
        counts = np.zeros(self.stages.number, dtype=np.int64)
        for rows in batches:
            frame = _framed(pa.Table.from_batches([rows]), self.dtypes)
            if frame.height:
                coded = FrameSource(frame).code_frame(self.coding, self.specification, self.stages)
                counts += np.bincount(coded.stage, minlength=len(counts))
                parts.append(replace(coded, row=frame[ROW].to_numpy()))
        weighted = self.specification.weights is not None
        whole = fill(parts, len(self.coding.supers), counts.tolist(), weighted=weighted).whole
        for start in range(0, len(whole.row), BLOCK):
            yield _block(whole.taken(slice(start, start + BLOCK)))


@dataclass(frozen=True)
class _AddUp:
    """Add up the blocks of a partition: blocks → one row of sums."""

    tally: Tally

    def __call__(self, blocks: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
        from pyspark import TaskContext

        context = TaskContext.get()
        sums = self.tally(some for block in _opened(blocks) for some in _in_cache(block))
        yield _sums_of_part(context.partitionId() if context else 0, sums)


@dataclass(frozen=True)
class _Keep:
    """Work out something for each record of a partition: blocks → blocks that hold it."""

    work_out: Keep

    def __call__(self, blocks: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
        for block in _opened(blocks):
            found = [self.work_out(some) for some in _in_cache(block)]
            yield _block(replace(block, kept=tuple(np.concatenate(own) for own in zip(*found, strict=True))))


def _opened(blocks: Iterable[pa.RecordBatch]) -> Iterator[Batch]:
    for rows in blocks:
        for block in rows.column(0):
            yield pickle.loads(block.as_py())


def _in_cache(block: Batch) -> Iterator[Batch]:
    """Yield the records of a block, so many at a time as stay in the processor's cache."""
    for start in range(0, len(block.row), BATCH):
        yield block.taken(slice(start, start + BATCH))


def _block(records: Batch) -> pa.RecordBatch:
    return pa.RecordBatch.from_pydict({CODED: [pickle.dumps(records, protocol=pickle.HIGHEST_PROTOCOL)]})


def _stage(stages: Stages) -> Any:
    """Return the column of the stage of each record."""
    from pyspark.sql import functions as sql

    known = [(sql.col(stages.column) >= origin).cast("short") for origin in stages.origins]
    return sum(known, start=sql.lit(0).cast("short")).cast("short")


def _row() -> Any:
    """Return the column of the number of each record: the first 60 bits of the MD5 of its identity."""
    from pyspark.sql import functions as sql

    digest = sql.md5(sql.col(IDENTITY).cast("string"))
    return sql.conv(sql.substring(digest, 1, 15), 16, 10).cast("long")


def _framed(table: Any, dtypes: Mapping[str, pl.DataType]) -> pl.DataFrame:
    found = pl.from_arrow(table)
    if not isinstance(found, pl.DataFrame):
        raise TypeError(f"a table of columns was expected, not {type(found).__name__}")
    return found.cast({name: dtype for name, dtype in dtypes.items() if name in found.columns})
