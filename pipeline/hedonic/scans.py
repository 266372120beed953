"""Scans: the named statements that count records where they lie, in DuckDB or in Parquet files."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.errors import FitError, suggest
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.specification import Specification
from pipeline.hedonic.superfactors import Coding, pairs
from pipeline.shipped import statement

Array = NDArray[np.float64]
Records = duckdb.DuckDBPyRelation | Path | str

MOST_LEVELS = 50_000
"""The most distinct combinations that one term may have: past it the columns are no factors."""


@dataclass(frozen=True)
class Scan:
    """Records that can be scanned again and again, their columns under names of our own.

    `columns` gives the name of each of the specification's columns there (c1, c2, ...).
    """

    connection: duckdb.DuckDBPyConnection
    records: duckdb.DuckDBPyRelation
    columns: dict[str, str]
    weighted: bool


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


def read_response(scan: Scan, specification: Specification) -> dict[str, float]:
    """Return records, origin, and the weighted sums of the response.

    Raises FitError where responses or weights are null, NaN, infinite, or not positive, with the count.
    """
    row = _ask(scan, scan.records, statement("crossproducts/response")).row(0, named=True)
    if not row["records"]:
        raise FitError("there are no records to fit", "bring some records.")
    for count, column in (
        ("wrong_responses", specification.response),
        ("wrong_weights", specification.weights),
    ):
        if row[count]:
            raise FitError(
                f"{row[count]} of {row['records']} values in the column {column!r} cannot be used "
                "(null, NaN, infinite, or a weight that is not positive)",
                "leave those records out or mend them.",
            )
    return {name: float(value) for name, value in row.items()}


def read_levels(scan: Scan, columns: Sequence[str], origin: float) -> pl.DataFrame:
    """Return the distinct combinations of `columns`, with records_behind and moment.

    Raises FitError where there are too many for a factor.
    """
    names = [scan.columns[column] for column in columns]
    chosen = scan.records.select(*(duckdb.ColumnExpression(name) for name in (*names, "y", "w")))
    with _setting(scan, {"origin": origin}):
        found = _ask(scan, chosen, statement("crossproducts/levels"))
    if found.height > MOST_LEVELS:
        raise FitError(
            f"{' × '.join(columns)} has {found.height} distinct values, more than {MOST_LEVELS}",
            "round the column to steps, or fit in memory.",
        )
    renamed = found.rename(dict(zip(names, columns, strict=True)))
    return renamed.sort([column for column in columns if renamed.schema[column] != pl.List])


@contextmanager
def level_tables(scan: Scan, coding: Coding, effects: Array | None = None) -> Iterator[None]:
    """Hold one table a factor in the engine while its block runs: number parts, and effects if given.

    `effects` (cells + 1,) is the effect of each design cell in log price, without the intercept.
    """
    strides = {
        factor: stride
        for packed in coding.supers
        for factor, stride in zip(packed.factors, packed.strides, strict=True)
    }
    try:
        for number, factor in enumerate(coding.factors):
            renamed = factor.levels.select(factor.columns).rename(
                {column: scan.columns[column] for column in factor.columns}
            )
            parts = np.arange(renamed.height, dtype=np.uint32) * strides[number]
            own = np.zeros(renamed.height) if effects is None else coding.alone[number] @ effects[:-1]
            incoming = renamed.with_columns(
                pl.Series("part", parts, dtype=pl.UInt32), pl.Series("effect", own, dtype=pl.Float64)
            )
            scan.connection.register("hedonic_incoming", incoming.to_arrow())
            scan.connection.execute(statement("crossproducts/level_table").format(number=number + 1))
            scan.connection.unregister("hedonic_incoming")
        yield
    finally:
        for number in range(len(coding.factors)):
            scan.connection.execute(statement("crossproducts/drop_level_table").format(number=number + 1))


def read_pair_tables(scan: Scan, coding: Coding) -> pl.DataFrame:
    """Return the pair tables (s1, s2, ..., weight) of X'WX."""
    text = statement("crossproducts/pair_tables").format(
        weight="sum(w)" if scan.weighted else "count(*)",
        **_repeated(scan, coding, pairs(coding)),
    )
    with level_tables(scan, coding), _wide(scan):
        return _ask(scan, scan.records, text)


def read_residual_tables(
    scan: Scan, coding: Coding, effects: Array, robust: Robust | None, scale: float
) -> pl.DataFrame:
    """Return the pair tables weighted by squared scores, for `effects` (cells + 1,), intercept first."""
    text = statement("crossproducts/residual_tables").format(
        score=_score(robust), **_repeated(scan, coding, pairs(coding))
    )
    with _fitted(scan, coding, effects, robust, scale), _wide(scan):
        return _ask(scan, scan.records, text)


def read_score_tables(
    scan: Scan, coding: Coding, effects: Array, robust: Robust, scale: float
) -> pl.DataFrame:
    """Return the tables (s1, s2, ..., score, squares, spread) for one round of re-weighting."""
    singles: list[tuple[int, ...]] = [(number,) for number in range(len(coding.supers))]
    text = statement("crossproducts/score_tables").format(
        score=_score(robust), **_repeated(scan, coding, singles)
    )
    with _fitted(scan, coding, effects, robust, scale):
        return _ask(scan, scan.records, text)


def read_spread(scan: Scan, coding: Coding, effects: Array) -> tuple[float, float]:
    """Return (median |residual|, mean squared residual), each with the root of the weight."""
    repeated = _repeated(scan, coding, [(0,)])
    text = statement("crossproducts/residual_spread").format(
        effects=repeated["effects"], joins=repeated["joins"]
    )
    with _fitted(scan, coding, effects, None, 1.0):
        row = _ask(scan, scan.records, text).row(0, named=True)
    return float(row["middle"]), float(row["mean_square"])


def _repeated(scan: Scan, coding: Coding, sets: Sequence[tuple[int, ...]]) -> dict[str, str]:
    """Return the parts of a statement that are repeated for each factor or super-factor."""
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
    effects = [f"hedonic_level_{number + 1}.effect" for number in range(len(coding.factors))]
    return {
        "joins": "\n  ".join(joins),
        "supers": ",\n    ".join(supers),
        "effects": " + ".join(effects),
        "cells": ", ".join(f"s{number + 1}" for number in range(len(coding.supers))),
        "sets": ", ".join("(" + ", ".join(f"s{one + 1}" for one in group) + ")" for group in sets),
    }


def _score(robust: Robust | None) -> str:
    """Return the expression of a record's score: w times the residual or its pseudo-value's."""
    if robust is None:
        return "w * residual"
    if robust.kind == "huber":
        return "w * residual * least(1, clip * scale / greatest(abs(residual) * sqrt(w), 1e-300)) / kappa"
    return "w * residual * (tails + 1) / (tails + residual * residual * w / (scale * scale)) / kappa"


@contextmanager
def _fitted(
    scan: Scan, coding: Coding, effects: Array, robust: Robust | None, scale: float
) -> Iterator[None]:
    """Hold the effects of a fit in the engine while its block runs."""
    without = effects.copy()
    without[0] = 0.0
    setting = {
        "intercept": float(effects[0]),
        "scale": scale,
        "tails": None if robust is None else robust.tails,
        "clip": None if robust is None else robust.clip,
        "kappa": None if robust is None else robust.kappa,
    }
    with level_tables(scan, coding, without), _setting(scan, setting):
        yield


@contextmanager
def _setting(scan: Scan, values: dict[str, float | None]) -> Iterator[None]:
    """Hold one row of values in the engine while its block runs."""
    row = pl.DataFrame([values], schema=dict.fromkeys(values, pl.Float64))
    scan.connection.register("hedonic_setting", row.to_arrow())
    try:
        yield
    finally:
        scan.connection.unregister("hedonic_setting")


@contextmanager
def _wide(scan: Scan) -> Iterator[None]:
    scan.connection.execute(statement("crossproducts/wide_tables"))
    try:
        yield
    finally:
        scan.connection.execute(statement("crossproducts/default_tables"))


def _ask(scan: Scan, records: duckdb.DuckDBPyRelation, text: str) -> pl.DataFrame:
    """Run a statement once on `records` and return what it finds."""
    answer = records.query("records", text)
    found = pl.from_arrow(answer.to_arrow_table()) if answer is not None else pl.DataFrame()
    return found if isinstance(found, pl.DataFrame) else found.to_frame()
