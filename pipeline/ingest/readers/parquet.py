"""Parquet files: typed columns written back as text, so that one way of reading serves all formats."""

import io

import polars as pl
from polars import selectors as cs

from pipeline.errors import ExportError
from pipeline.ingest.readers.limits import refuse_large_parquet
from pipeline.ingest.readers.table import TextTable, text_table


def read_parquet(content: bytes, *, where: str) -> TextTable:
    """Return the table of a Parquet file; days become ISO text, lists JSON arrays.

    Raises ExportError for a damaged file or one without rows.
    """
    refuse_large_parquet(content, where=where)
    try:
        typed = pl.read_parquet(io.BytesIO(content))
    except (pl.exceptions.PolarsError, OSError) as exc:
        raise ExportError(
            f"{where} cannot be read as Parquet: {str(exc).splitlines()[0]}", "export it again."
        ) from exc
    if typed.height == 0:
        raise ExportError(f"{where} holds no rows", "export it again.")
    lists = cs.list() | cs.array()
    cells = typed.select(
        pl.struct(v=name).struct.json_encode().str.slice(5).str.strip_suffix("}").alias(name)
        if isinstance(dtype, pl.List | pl.Array | pl.Struct)
        else pl.col(name).cast(pl.String).alias(name)
        for name, dtype in typed.schema.items()
    ).with_columns(
        pl.when(pl.col(name) != "null").then(pl.col(name)).alias(name)
        for name in cs.expand_selector(typed, lists | cs.struct())
    )
    return text_table(
        cells, pl.Series("row_number", range(1, cells.height + 1), dtype=pl.Int64), numbers_are_plain=True
    )
