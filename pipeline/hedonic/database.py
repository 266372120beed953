"""Records in DuckDB, or in Parquet files that it reads, as a source of records.

Nothing but small tables leaves the engine, and each record once, as a few numbers.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import polars as pl
from duckdb import (
    ColumnExpression,
    ConstantExpression,
    Expression,
    FunctionExpression,
    SQLExpression,
    StarExpression,
)

from pipeline.errors import FitError, suggest
from pipeline.hedonic.arrays import fill
from pipeline.hedonic.coding import Coding
from pipeline.hedonic.frame import IDENTITY
from pipeline.hedonic.source import BEHIND, ONE_STAGE, STAGE, Batch, Coded, Columns, Stages, refuse_unusable
from pipeline.hedonic.specification import Specification
from pipeline.read_ahead import read_ahead
from pipeline.shipped import statement

Records = duckdb.DuckDBPyRelation | Path | str

BATCH = 65_536
"""How many records leave the engine at a time."""


class DatabaseSource:
    """A relation of a connection, or Parquet files: a file, a folder (hive partitions become columns), a pattern.

    `factors` are the columns whose levels will be asked for, which are counted together. A record's number is made
    from its record_id, where there is one; else it is its place.
    """

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, records: Records, factors: Sequence[str] = ()
    ) -> None:
        self._connection = connection
        self._factors = tuple(factors)
        self._records, place = _open(connection, records)
        self._levels: dict[tuple[Columns, Stages], pl.DataFrame] = {}
        self.schema: Mapping[str, pl.DataType] = _frame(self._records.limit(0)).schema
        if IDENTITY in self.schema:
            identity = ColumnExpression(IDENTITY).cast(duckdb.sqltypes.VARCHAR)
            number = FunctionExpression("md5_number_lower", identity) // ConstantExpression(2)
        else:
            number = place
            identity = number.cast(duckdb.sqltypes.VARCHAR)
        self._named = self._records.select(
            StarExpression(), identity.alias("identity"), number.cast(duckdb.sqltypes.BIGINT).alias("number")
        )

    def check(self, specification: Specification) -> None:
        """Raise FitError where there are no records, or a response or weight cannot be used, with the count."""
        columns = (specification.response, *([specification.weights] if specification.weights else []))
        for column in columns:
            if column not in self.schema:
                raise FitError(
                    f"the model reads the column {column!r}, which the records do not have",
                    suggest(column, list(self.schema)),
                )
            if not self.schema[column].is_numeric():
                raise FitError(f"the column {column!r} is {self.schema[column]}", "give numbers (log price).")
        row = _frame(self._ask("usable", self._records.select(*_values(specification)))).row(0, named=True)
        refuse_unusable(
            row["records"], dict(zip(columns, (row["wrong_responses"], row["wrong_weights"]), strict=False))
        )

    def levels(self, sets: Sequence[Columns], stages: Stages) -> list[pl.DataFrame]:
        """Return the distinct combinations of each set of columns and stages, with the records behind each."""
        asked = dict.fromkeys([*sets, (), *((column,) for column in self._factors)])
        unknown = [columns for columns in asked if (columns, stages) not in self._levels]
        if unknown:
            self._count(unknown, stages)
        return [self._levels[columns, stages] for columns in sets]

    def _count(self, sets: Sequence[Columns], stages: Stages) -> None:
        """Count the records of each combination of each of some sets of columns, and stages, in one pass."""
        names = _own_names({column for columns in sets for column in columns})
        own = {column: name for name, column in names.items()}
        staged = [_stage(stages)] if stages.origins else []
        keys = [*names, *([STAGE] if staged else [])]
        grouped = [[*(own[column] for column in columns), *keys[len(names) :]] for columns in sets]
        chosen = self._records.select(*_named(names), *(staged or [ConstantExpression(0).alias("none")]))
        answer = self._ask(
            "levels",
            chosen,
            columns="".join(f"{key}, " for key in keys),
            left_out=" + ".join(f"{2**place} * GROUPING({key})" for place, key in enumerate(keys)) or "0",
            sets=", ".join(f"({', '.join(group)})" for group in grouped),
        )
        found = _frame(answer)
        if not staged:
            found = found.with_columns(pl.lit(0, pl.Int16).alias(STAGE))
        for columns, group in zip(sets, grouped, strict=True):
            left_out = sum(2**place for place, key in enumerate(keys) if key not in group)
            counted = found.filter(pl.col("left_out") == left_out)
            self._levels[columns, stages] = counted.select(
                *(pl.col(own[column]).alias(column) for column in columns), STAGE, BEHIND
            )

    def code(self, coding: Coding, specification: Specification, stages: Stages) -> Coded:
        """Return the records coded; raises FitError for a record with a level that the coding does not know."""
        names = _own_names({column for factor in coding.factors for column in factor.columns})
        chosen = self._named.select(
            *_named(names), *_values(specification), _stage(stages), ColumnExpression("number")
        )
        counts = self.levels([()], stages)[0]
        by_stage = np.zeros(stages.number, dtype=np.int64)
        by_stage[counts[STAGE].to_numpy()] = counts[BEHIND].to_numpy()
        weighted = specification.weights is not None
        with self._level_tables(coding, names):
            answer = self._ask("coded", chosen, **_repeated(coding, names))
            batches = _batches(answer, len(coding.supers), weighted=weighted)
            return fill(batches, len(coding.supers), by_stage.tolist(), weighted=weighted)

    def sample(self, most: int) -> pl.DataFrame:
        """Return all records, or `most` of them: those whose identity has the smallest MD5."""
        found = self._named
        if int(self.levels([()], ONE_STAGE)[0][BEHIND].sum()) > most:
            found = found.order("md5(identity)").limit(most)
        return (
            _frame(found).sort("identity" if IDENTITY in self.schema else "number").select(list(self.schema))
        )

    def rows(self, numbers: Sequence[int]) -> pl.DataFrame:
        """Return the records that have these numbers."""
        if not len(numbers):
            return pl.DataFrame(schema=self.schema)
        wanted = self._named.filter(ColumnExpression("number").isin(*map(ConstantExpression, numbers)))
        order = pl.DataFrame({"number": numbers}, schema={"number": pl.Int64})
        found = order.join(_frame(wanted), on="number", how="left", maintain_order="left")
        return found.select(list(self.schema))

    def _ask(self, name: str, records: duckdb.DuckDBPyRelation, **parts: str) -> duckdb.DuckDBPyRelation:
        """Return what a statement of sql/source finds in `records`."""
        text = statement(f"source/{name}")
        answer = records.query("records", text.format(**parts) if parts else text)
        if answer is None:
            raise FitError(f"the statement {name!r} answers nothing", "install pairband again.")
        return answer

    @contextmanager
    def _level_tables(self, coding: Coding, names: Mapping[str, str]) -> Iterator[None]:
        """Show the engine one table a factor while the block runs: its columns, and its numbers' parts."""
        own = {column: name for name, column in names.items()}
        with ExitStack() as stack:
            for factor, part in enumerate(coding.parts_of_levels()):
                levels = coding.factors[factor].levels.rename(own, strict=False)
                name = f"hedonic_level_{factor + 1}"
                self._connection.register(name, levels.with_columns(pl.Series("part", part)).to_arrow())
                stack.callback(self._connection.unregister, name)
            yield


def _open(
    connection: duckdb.DuckDBPyConnection, records: Records
) -> tuple[duckdb.DuckDBPyRelation, Expression]:
    """Return the records, and the place of each among them."""
    if isinstance(records, duckdb.DuckDBPyRelation):
        return records, SQLExpression("row_number() OVER () - 1")
    place = Path(records)
    pattern = str(place / "**" / "*.parquet") if place.is_dir() else str(place)
    found = connection.read_parquet(pattern, hive_partitioning=place.is_dir())
    return found, SQLExpression("(file_index << 40) + file_row_number")


def _own_names(columns: Iterable[str]) -> dict[str, str]:
    """Return the names that statements know columns by (c1, c2, …), each with the column."""
    return {f"c{number}": column for number, column in enumerate(sorted(columns), 1)}


def _named(names: Mapping[str, str]) -> list[Expression]:
    return [ColumnExpression(column).alias(name) for name, column in names.items()]


def _values(specification: Specification) -> list[Expression]:
    """Return the response (y) and the weight (w), 1 where the records are not weighted."""
    double = duckdb.sqltypes.DOUBLE
    weights = specification.weights
    weight = ConstantExpression(1.0) if weights is None else ColumnExpression(weights).cast(double)
    return [ColumnExpression(specification.response).cast(double).alias("y"), weight.alias("w")]


def _stage(stages: Stages) -> Expression:
    small = duckdb.sqltypes.SMALLINT
    stage = ConstantExpression(0).cast(small)
    for origin in stages.origins:
        stage = stage + (ColumnExpression(stages.column) >= ConstantExpression(origin)).cast(small)
    return stage.alias(STAGE)


def _repeated(coding: Coding, names: Mapping[str, str]) -> dict[str, str]:
    """Return the parts of the statement that are repeated for each factor or super-factor."""
    own = {column: name for name, column in names.items()}
    joins = []
    for number, factor in enumerate(coding.factors):
        level = f"hedonic_level_{number + 1}"
        equal = []
        for column in factor.columns:
            sign = "IS NOT DISTINCT FROM" if factor.levels[column].null_count() else "="
            equal.append(f"records.{own[column]} {sign} {level}.{own[column]}")
        joins.append(f"LEFT JOIN {level} ON {' AND '.join(equal) or 'TRUE'}")
    supers = [
        " + ".join(f"hedonic_level_{factor + 1}.part" for factor in packed.factors) + f" AS s{number + 1}"
        for number, packed in enumerate(coding.supers)
    ]
    return {"joins": "\n".join(joins), "supers": ",\n    ".join(supers)}


def _batches(answer: duckdb.DuckDBPyRelation, supers: int, *, weighted: bool) -> Iterator[Batch]:
    for read in read_ahead(answer.to_arrow_reader(BATCH)):
        batch = pl.DataFrame(read)
        strangers = sum(batch.to_series(number).null_count() for number in range(supers))
        if strangers:
            raise FitError(
                f"{strangers} records have a level that the design does not know",
                "find the levels over all partitions first.",
            )
        y, w, stage, number = (batch[column].to_numpy() for column in ("y", "w", STAGE, "number"))
        numbers = batch[:, :supers].to_numpy(order="c")
        yield Batch(numbers, y, w if weighted else None, stage, number)


def _frame(answer: duckdb.DuckDBPyRelation) -> pl.DataFrame:
    found: Any = pl.from_arrow(answer.to_arrow_table())
    return found if isinstance(found, pl.DataFrame) else found.to_frame()
