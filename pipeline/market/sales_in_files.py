"""The sales of Parquet files as the source of a fit: what counts of them, in DuckDB or in Spark, and their digest.

Both engines make the same factors of the same columns (`pipeline/schema.py`), leave out the same rows, and give the
same digest, so that a fit does not depend on who read the files.
"""

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from tempfile import TemporaryDirectory
from typing import Any

import duckdb
import polars as pl

from pipeline.errors import FitError
from pipeline.hedonic.database import DatabaseSource
from pipeline.hedonic.source import Source
from pipeline.market.fitted_market import IN_FILES
from pipeline.market.model import ASKED
from pipeline.sales_files import ALSO, IDENTITY, NEEDED, TITLE, check_files, find_files
from pipeline.schema import ALL_FACTORS, COLUMN, FACTORS
from pipeline.shipped import statement

ENGINE: dict[str, Any] = {"memory_limit": "2GB", "autoinstall_known_extensions": "false"}
"""The engine's settings: what does not fit into this much memory goes to a temporary folder."""

PRICED: dict[str, pl.DataType] = {
    IDENTITY: pl.String(),
    TITLE: pl.String(),
    "sold_on": pl.Date(),
    "price_paid": pl.Float64(),
    "log_price": pl.Float64(),
    **FACTORS,
}
"""The columns of the source: those of sql/marts/priced_sales.sql."""

WAY = "1"
"""The way in which a digest of files is made."""


@dataclass(frozen=True)
class SalesInFiles:
    """The sales of some files that count in a fit, their digest, and how many of the rows are left out."""

    source: Source
    records_digest: str
    files: int
    sales: int
    left_out: int


@contextmanager
def sales_in_files(pattern: str, *, spark: str | None = None) -> Iterator[SalesInFiles]:
    """Open the sales of the files that a pattern means, in DuckDB, or in Spark at a master.

    Raises FitError where there is no file, a column is missing or of another type, a row has no record_id, two have the
    same, or Spark cannot be used.
    """
    files = find_files(pattern)
    also = check_files(files)
    with _in_duckdb(files, also) if spark is None else _in_spark(files, also, spark) as (source, facts):
        priced = facts["priced"]
        yield SalesInFiles(source, _digest(pattern, facts), len(files), priced, facts["records"] - priced)


@contextmanager
def _in_duckdb(files: Sequence[str], also: frozenset[str]) -> Iterator[tuple[Source, dict[str, int]]]:
    with (
        TemporaryDirectory(prefix="pairband-") as folder,
        duckdb.connect(config={**ENGINE, "temp_directory": folder}) as connection,
    ):
        connection.execute(statement("schema/session"))
        there = connection.read_parquet(list(files), hive_partitioning=False)
        stated = [
            duckdb.ColumnExpression(name).cast(connection.type(_sql_type(name))).alias(name)
            for name in (*NEEDED, *sorted(also))
        ]
        assumed = [_ASSUMED[name].alias(name) for name in ALSO if name not in also]
        records = there.select(*stated, *assumed)
        records.create_view("recorded_sales")
        facts = connection.sql(statement("source/facts_of_records")).pl().row(0, named=True)
        priced = connection.sql(statement("source/priced_records"))
        yield DatabaseSource(connection, priced, ASKED), {name: int(value) for name, value in facts.items()}


_ASSUMED: dict[str, duckdb.Expression] = {
    TITLE: duckdb.ConstantExpression(""),
    "status": duckdb.ConstantExpression("sold"),
    "held_out": duckdb.ConstantExpression(False),
}
"""What holds of files without a column of ALSO."""


def _sql_type(name: str) -> str:
    return "DOUBLE" if name == "price_paid" else COLUMN[name].sql_type


@contextmanager
def _in_spark(
    files: Sequence[str], also: frozenset[str], master: str
) -> Iterator[tuple[Source, dict[str, int]]]:
    from pipeline.hedonic.spark import SparkSource
    from pipeline.spark_session import spark_session

    with spark_session(master) as session:
        from pyspark.sql import functions as sql

        there = session.read.parquet(*files)
        assumed = {TITLE: sql.lit(""), "status": sql.lit("sold"), "held_out": sql.lit(False)}
        records = there.select(
            *(sql.col(name).cast(_spark_type(name)).alias(name) for name in (*NEEDED, *sorted(also))),
            *(value.alias(name) for name, value in assumed.items() if name not in also),
        )
        counts = (
            (sql.col("status") == "sold")
            & (sql.col("price_paid") > 0)
            & sql.col("sold_on").isNotNull()
            & sql.col("silhouette").isNotNull()
            & ~sql.col("held_out")
        )
        priced = records.filter(counts).select(
            IDENTITY,
            sql.coalesce(TITLE, sql.lit("")).alias(TITLE),
            "sold_on",
            "price_paid",
            sql.log("price_paid").alias("log_price"),
            *(_spark_factor(name).alias(name) for name in FACTORS),
        )
        source = SparkSource(priced, PRICED, ASKED)
        yield source, _spark_facts(records, counts)


def _spark_type(name: str) -> str:
    dtype = COLUMN[name].dtype
    if isinstance(dtype, pl.List):
        return "array<string>"
    if isinstance(dtype, pl.String):
        return "string"
    return {"price_paid": "double"}.get(name, COLUMN[name].sql_type.lower())


def _spark_factor(name: str) -> Any:
    """Return the factor of a sale, as `sql/macros/factors.jinja` makes it."""
    from pyspark.sql import functions as sql

    factor = next(one for one in ALL_FACTORS if one.name == name)
    value = sql.col(factor.column)
    if name == "month":
        return (12 * sql.year(value) + sql.month(value) - 1).cast("int")
    if factor.step is not None:
        return (factor.step * sql.round(value / factor.step)).cast("int")
    return value if factor.missing is None else sql.coalesce(value, sql.lit(factor.missing))


def _spark_facts(records: Any, counts: Any) -> dict[str, int]:
    """Return what sql/source/facts_of_records.sql says, found by Spark."""
    from pyspark.sql import functions as sql

    texts = [
        sql.col("price_paid").cast("decimal(18,4)").cast("string"),
        sql.date_format("sold_on", "yyyy-MM-dd"),
    ]
    for factor in ALL_FACTORS:
        column = sql.col(factor.column)
        if factor.name == "month":
            continue
        if factor.dtype.is_nested():
            texts.append(sql.array_join(column, chr(30)))
        else:
            texts.append((column.cast("decimal(6,2)") if factor.dtype.is_float() else column).cast("string"))
    known = [sql.coalesce(text, sql.lit(chr(29))) for text in texts]
    digest = sql.md5(sql.concat_ws(chr(31), IDENTITY, *known))
    halves = {
        name: sql.conv(sql.substring(digest, first, 15), 16, 10).cast("decimal(38,0)")
        for name, first in (("high", 1), ("low", 16))
    }
    is_priced = sql.coalesce(counts, sql.lit(False))
    found = records.agg(
        sql.count("*").alias("records"),
        sql.count_if(sql.col(IDENTITY).isNull()).alias("nameless"),
        sql.count_if(is_priced).alias("priced"),
        *(
            sql.coalesce(sql.sum(sql.when(is_priced, half)), sql.lit(0)).alias(name)
            for name, half in halves.items()
        ),
    ).first()
    ids = records.select(IDENTITY).dropna().distinct().count()
    return {**{name: int(value) for name, value in found.asDict().items()}, "ids": ids}


def _digest(pattern: str, facts: dict[str, int]) -> str:
    """Return the digest of the sales that count; raises FitError for a row without an identity, and for two of one."""
    if facts["nameless"]:
        raise FitError(
            f"{facts['nameless']} of {facts['records']} rows at {pattern} have no {IDENTITY}",
            "give each sale one of its own.",
        )
    twice = facts["records"] - facts["ids"]
    if twice:
        raise FitError(
            f"{twice} of {facts['records']} rows at {pattern} have a {IDENTITY} that another row has",
            "write each sale once; two files may hold the same sales.",
        )
    content = f"{facts['priced']}:{facts['high']}:{facts['low']}"
    return f"{IN_FILES}{WAY}:{hashlib.md5(content.encode()).hexdigest()}"
