"""Parquet files: typed columns written back as text, so that one way of reading serves all formats."""

import io

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
from polars import selectors as cs

from pipeline.errors import ExportError
from pipeline.ingest.readers import limits
from pipeline.ingest.readers.table import TextTable, text_table

_BATCH_ROWS = 65_536


def read_parquet(content: bytes, *, where: str) -> TextTable:
    """Return the table of a Parquet file; days become ISO text, lists JSON arrays.

    Raises ExportError for a damaged file or one without rows.
    """
    _refuse_large(content, where=where)
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


def _refuse_large(content: bytes, *, where: str) -> None:
    """Raise ExportError where a Parquet file is damaged, or holds more than is read once it is unpacked."""
    try:
        file = pq.ParquetFile(io.BytesIO(content))
        groups = [file.metadata.row_group(number) for number in range(file.metadata.num_row_groups)]
        values = sum(
            group.column(number).num_values for group in groups for number in range(group.num_columns)
        )
        limits.refuse_wide(list(file.schema_arrow.names), where=where)
        texts = [field.name for field in file.schema_arrow if _is_text(field.type)]
        if values > limits.MOST_VALUES:
            raise ExportError(
                f"{where} holds {values:,} values, and {limits.MOST_VALUES:,} are the most that are read",
                limits.IN_PARTS,
            )
        unpacked = 0
        parquet = pq.ParquetFile(io.BytesIO(content), read_dictionary=texts)
        for batch in parquet.iter_batches(_BATCH_ROWS, columns=texts, use_threads=False) if texts else ():
            unpacked += sum(_text_bytes(column) for column in batch.columns)
            if unpacked > limits.LARGEST_UNPACKED:
                raise ExportError(
                    f"{where} unpacks to more than {limits.LARGEST_UNPACKED:,} bytes", limits.IN_PARTS
                )
    except (pa.ArrowException, OSError, ValueError) as exc:
        raise ExportError(
            f"{where} cannot be read as Parquet: {str(exc).splitlines()[0]}", "export it again."
        ) from exc


def _is_text(kind: pa.DataType) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_binary(kind))


def _text_bytes(column: pa.Array) -> int:
    """Return how many bytes the texts of a column are, each counted where it stands."""
    if not pa.types.is_dictionary(column.type):
        return int(column.nbytes)
    lengths = pc.binary_length(column.dictionary)
    return int(np.nansum(pc.take(lengths, column.indices).to_numpy(zero_copy_only=False)))
