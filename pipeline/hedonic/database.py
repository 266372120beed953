"""Records in DuckDB, or in Parquet files that it reads, as a source of records.

Nothing but small tables leaves the engine, and each record once, as a few numbers.
"""

from collections.abc import Iterator, Mapping, Sequence
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
from pipeline.hedonic.source import BEHIND, ONE_STAGE, STAGE, Batch, Coded, Stages, refuse_unusable
from pipeline.hedonic.specification import Specification
from pipeline.shipped import statement

Records = duckdb.DuckDBPyRelation | Path | str

BATCH = 65_536
"""How many records leave the engine at a time."""


class DatabaseSource:
    """A relation of a connection, or Parquet files: a file, a folder (hive partitions become columns), a pattern.

    A record's number is made from its record_id, where there is one; else it is its place.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection, records: Records) -> None:
        self._connection = connection
        self._records = _open(connection, records)
        self._levels: dict[tuple[tuple[str, ...], Stages], pl.DataFrame] = {}
        self.schema: Mapping[str, pl.DataType] = _frame(self._records.limit(0)).schema
        if IDENTITY in self.schema:
            identity = ColumnExpression(IDENTITY).cast(duckdb.sqltypes.VARCHAR)
            number = FunctionExpression("md5_number_lower", identity) // ConstantExpression(2)
        else:
            number = SQLExpression("row_number() OVER () - 1")
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

    def levels(self, columns: Sequence[str], stages: Stages) -> pl.DataFrame:
        """Return the distinct combinations of columns and stages, with the records behind each."""
        asked = tuple(columns), stages
        if asked not in self._levels:
            names = {f"c{number + 1}": column for number, column in enumerate(columns)}
            chosen = self._records.select(*_named(names), _stage(stages))
            self._levels[asked] = _frame(self._ask("levels", chosen)).rename(names)
        return self._levels[asked]

    def code(self, coding: Coding, specification: Specification, stages: Stages) -> Coded:
        """Return the records coded; raises FitError for a record with a level that the coding does not know."""
        columns = sorted({column for factor in coding.factors for column in factor.columns})
        names = {f"c{number + 1}": column for number, column in enumerate(columns)}
        chosen = self._named.select(
            *_named(names), *_values(specification), _stage(stages), ColumnExpression("number")
        )
        counts = self.levels((), stages)
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
        if int(self.levels((), ONE_STAGE)[BEHIND].sum()) > most:
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


def _open(connection: duckdb.DuckDBPyConnection, records: Records) -> duckdb.DuckDBPyRelation:
    if isinstance(records, duckdb.DuckDBPyRelation):
        return records
    place = Path(records)
    pattern = str(place / "**" / "*.parquet") if place.is_dir() else str(place)
    return connection.read_parquet(pattern, hive_partitioning=place.is_dir())


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
    for read in answer.to_arrow_reader(BATCH):
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
