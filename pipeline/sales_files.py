"""Sales in Parquet files: how pairband writes those of a ledger."""

from pathlib import Path
from typing import Any

import duckdb

from pipeline.ledger.ledger import BATCH


def write_sales(sales: duckdb.DuckDBPyRelation, folder: Path) -> int:
    """Write sales (columns of marts/sales_for_files) into a folder, a part a year, and return how many there are."""
    import pyarrow as pa
    import pyarrow.dataset as ds

    read = sales.to_arrow_reader(BATCH)
    counts = [0]

    def counted() -> Any:
        for batch in read:
            counts[0] += batch.num_rows
            yield batch

    parquet = ds.ParquetFileFormat()
    ds.write_dataset(
        pa.RecordBatchReader.from_batches(read.schema, counted()),
        folder,
        format=parquet,
        file_options=parquet.make_write_options(compression="zstd"),
        partitioning=ds.partitioning(pa.schema([("year", pa.int64())]), flavor="hive"),
        basename_template="sales-{i}.parquet",
        use_threads=False,
        existing_data_behavior="error",
    )
    return counts[0]
