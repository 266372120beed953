"""Scans: the named statements that read records where they lie, in DuckDB or in Parquet files."""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError, suggest
from pipeline.hedonic.specification import Specification
from pipeline.hedonic.superfactors import Coding
from pipeline.shipped import statement

Array = NDArray[np.float64]
Records = duckdb.DuckDBPyRelation | Path | str

MOST_LEVELS = 50_000
"""The most distinct combinations that one term may have: past it the columns are no factors."""

BATCH = 65_536
"""How many records leave the engine at a time: few enough for what is made of them to stay in cache."""


@dataclass(frozen=True)
class Scan:
    """Records that can be scanned again and again, their columns under names of our own.

    `columns` gives the name of each of the specification's columns there (c1, c2, ...).
    """

    connection: duckdb.DuckDBPyConnection
    records: duckdb.DuckDBPyRelation
    columns: dict[str, str]
    weighted: bool


@dataclass(frozen=True)
class Batch:
    """Some records: the number of each super-factor (one array each), response, and weights or None."""

    numbers: tuple[NDArray[np.int32], ...]
    response: Array
    weights: Array | None


def open_records(connection: duckdb.DuckDBPyConnection, records: Records) -> duckdb.DuckDBPyRelation:
    """Return a relation over records: as given, or over Parquet files (a file, a folder, or a pattern).

    A folder is read with its hive partitions (year=2020/...) as columns.
    """
    if isinstance(records, duckdb.DuckDBPyRelation):
        return records
    place = Path(records)
    pattern = str(place / "**" / "*.parquet") if place.is_dir() else str(place)
    return connection.read_parquet(pattern, hive_partitioning=place.is_dir())


def prepare(connection: duckdb.DuckDBPyConnection, records: Records, specification: Specification) -> Scan:
    """Return the scan that a specification needs; raises FitError for a column that is not there."""
    relation = open_records(connection, records)
    wanted = sorted({column for term in specification.terms for column in term.columns})
    extra = [specification.response, *([specification.weights] if specification.weights else [])]
    for column in (*wanted, *extra):
        if column not in relation.columns:
            raise FitError(
                f"the model reads the column {column!r}, which the records do not have",
                suggest(column, relation.columns),
            )
    names = {column: f"c{number + 1}" for number, column in enumerate(wanted)}
    chosen = [duckdb.ColumnExpression(column).alias(name) for column, name in names.items()]
    double = duckdb.sqltypes.DOUBLE
    response = duckdb.ColumnExpression(specification.response).cast(double).alias("y")
    weight = (
        duckdb.ColumnExpression(specification.weights).cast(double)
        if specification.weights
        else duckdb.ConstantExpression(1.0)
    )
    selected = relation.select(*chosen, response, weight.alias("w"))
    return Scan(connection, selected, names, specification.weights is not None)


def read_origin(scan: Scan, specification: Specification) -> float:
    """Return the mean response.

    Raises FitError where there are no records, or responses or weights are null, NaN, infinite, or not
    positive, with the count.
    """
    row = _ask(scan.records, statement("crossproducts/response")).row(0, named=True)
    if not row["records"]:
        raise FitError("there are no records to fit", "add some records.")
    for count, column in (
        ("wrong_responses", specification.response),
        ("wrong_weights", specification.weights),
    ):
        if row[count]:
            raise FitError(
                f"{row[count]} of {row['records']} values in the column {column!r} cannot be used "
                "(null, NaN, infinite, or a weight that is not positive)",
                "leave those records out or correct them.",
            )
    return float(row["origin"])


def read_levels(scan: Scan, columns: Sequence[str]) -> pl.DataFrame:
    """Return the distinct combinations of `columns`, with records_behind.

    Raises FitError where there are too many for a factor.
    """
    names = [scan.columns[column] for column in columns]
    chosen = scan.records.select(*(duckdb.ColumnExpression(name) for name in names))
    found = _ask(chosen, statement("crossproducts/levels"))
    if found.height > MOST_LEVELS:
        raise FitError(
            f"{' × '.join(columns)} has {found.height} distinct values, more than {MOST_LEVELS}",
            "round the column to steps, or fit in memory.",
        )
    renamed = found.rename(dict(zip(names, columns, strict=True)))
    return renamed.sort([column for column in columns if renamed.schema[column] != pl.List])


def read_batches(scan: Scan, coding: Coding) -> Iterator[Batch]:
    """Read all records once, as the numbers of their super-factors.

    Raises FitError for a record with a level that the coding does not know.
    """
    text = statement("crossproducts/packed").format(
        values="records.y, records.w" if scan.weighted else "records.y", **_repeated(scan, coding)
    )
    supers = len(coding.supers)
    with _level_tables(scan, coding):
        answer = scan.records.query("records", text)
        for batch in answer.to_arrow_reader(BATCH) if answer is not None else ():
            strangers = sum(batch.column(number).null_count for number in range(supers))
            if strangers:
                raise FitError(
                    f"{strangers} records have a level that the design does not know",
                    "find the levels over all partitions first.",
                )
            numbers = [batch.column(number).to_numpy() for number in range(supers)]
            weights = batch.column(supers + 1).to_numpy() if scan.weighted else None
            yield Batch(tuple(numbers), batch.column(supers).to_numpy(), weights)


@contextmanager
def _level_tables(scan: Scan, coding: Coding) -> Iterator[None]:
    """Show the engine one table a factor while the block runs: its columns, and its numbers' parts."""
    strides = {
        factor: stride
        for packed in coding.supers
        for factor, stride in zip(packed.factors, packed.strides, strict=True)
    }
    with ExitStack() as stack:
        for number, factor in enumerate(coding.factors):
            own = factor.levels.select(
                pl.col(column).alias(scan.columns[column]) for column in factor.columns
            )
            parts = np.arange(own.height, dtype=np.int32) * strides[number]
            name = f"hedonic_level_{number + 1}"
            scan.connection.register(
                name, own.with_columns(pl.Series("part", parts, dtype=pl.Int32)).to_arrow()
            )
            stack.callback(scan.connection.unregister, name)
        yield


def _repeated(scan: Scan, coding: Coding) -> dict[str, str]:
    """Return the parts of the statement that are repeated for each factor or super-factor."""
    joins = []
    for number, factor in enumerate(coding.factors):
        level = f"hedonic_level_{number + 1}"
        equal = []
        for column in factor.columns:
            sign = "IS NOT DISTINCT FROM" if factor.levels[column].null_count() else "="
            equal.append(f"records.{scan.columns[column]} {sign} {level}.{scan.columns[column]}")
        joins.append(f"LEFT JOIN {level} ON {' AND '.join(equal)}")
    supers = [
        " + ".join(f"hedonic_level_{factor + 1}.part" for factor in packed.factors) + f" AS s{number + 1}"
        for number, packed in enumerate(coding.supers)
    ]
    return {"joins": "\n".join(joins), "supers": ",\n  ".join(supers)}


def _ask(records: duckdb.DuckDBPyRelation, text: str) -> pl.DataFrame:
    """Run a statement once on `records` and return what it finds."""
    answer = records.query("records", text)
    found = pl.from_arrow(answer.to_arrow_table()) if answer is not None else pl.DataFrame()
    return found if isinstance(found, pl.DataFrame) else found.to_frame()
