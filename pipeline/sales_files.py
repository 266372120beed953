"""Sales in Parquet files: how pairband writes those of a ledger, and what files must hold for a fit to read them.

The columns are those of a sale record (`pairband columns`): what names the sale, its day and price, and all that a
factor of the model is made of.
"""

from collections.abc import Mapping, Sequence
from glob import glob
from pathlib import Path
from typing import Any

import duckdb
import polars as pl

from pipeline.errors import FitError
from pipeline.ledger.ledger import BATCH
from pipeline.schema import ALL_FACTORS, COLUMN

IDENTITY, TITLE = "record_id", "title"

NEEDED: dict[str, pl.DataType] = {
    IDENTITY: COLUMN[IDENTITY].dtype,
    "sold_on": COLUMN["sold_on"].dtype,
    "price_paid": COLUMN["price_paid"].dtype,
    **{factor.column: COLUMN[factor.column].dtype for factor in ALL_FACTORS},
}
"""The columns that each file must have."""

ALSO: dict[str, pl.DataType] = {name: COLUMN[name].dtype for name in (TITLE, "status", "held_out")}
"""The columns that files may have: a title to show, and what leaves a record out of a fit."""

_FORM = {
    pl.String: "text",
    pl.List: "a list of texts",
    pl.Date: "a day (DATE)",
    pl.Boolean: "true or false (BOOLEAN)",
}


def find_files(pattern: str) -> list[str]:
    """Return the Parquet files that a pattern, a folder or a name means, in order.

    Raises FitError where there is none.
    """
    named = Path(pattern)
    found = named.rglob("*.parquet") if named.is_dir() else map(Path, glob(pattern, recursive=True))
    files = sorted(str(one) for one in found if one.is_file())
    if not files:
        raise FitError(
            f"no Parquet file is at {pattern}",
            "name a file, a folder, or a pattern in quotes ('folder/*.parquet').",
        )
    return files


def check_columns(where: str, there: Mapping[str, pl.DataType]) -> None:
    """Raise FitError where a needed column is missing from `where`, or one is of another type than it must be."""
    missing = [name for name in NEEDED if name not in there]
    if missing:
        known = ", ".join(there) or "none"
        raise FitError(
            f"{where} has no column {', '.join(repr(name) for name in missing)}; its columns are {known}",
            "`pairband columns` lists what they hold; `pairband records --parquet FOLDER` writes such files.",
        )
    for name, wanted in (NEEDED | ALSO).items():
        if name in there and not _serves(there[name], wanted):
            form = _FORM.get(type(wanted), "a number")
            raise FitError(
                f"{where}: the column {name!r} is {there[name]}, and must be {form}",
                "write the column in that type.",
            )


def check_files(files: Sequence[str]) -> frozenset[str]:
    """Return the columns of ALSO that the files have; raises FitError as `check_columns` does.

    Only the end of each file is read. Raises FitError for one that is no Parquet file, and where one has a column of
    ALSO that another lacks.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    also: dict[frozenset[str], str] = {}
    for file in files:
        try:
            schema = pq.read_schema(file)
        except (pa.ArrowException, OSError) as exc:
            raise FitError(
                f"{file} cannot be read as Parquet: {str(exc).splitlines()[0]}", "leave it out."
            ) from exc
        columns = pl.DataFrame(schema.empty_table()).schema
        check_columns(file, columns)
        also.setdefault(frozenset(ALSO) & frozenset(columns), file)
    if len(also) > 1:
        (some, one), (others, other), *_ = also.items()
        differ = ", ".join(sorted(some ^ others))
        raise FitError(f"only one of {one} and {other} has {differ}", "write both alike.")
    return next(iter(also))


def _serves(found: pl.DataType, wanted: pl.DataType) -> bool:
    if isinstance(wanted, pl.String):
        return isinstance(found, pl.String | pl.Categorical)
    if isinstance(wanted, pl.List):
        return isinstance(found, pl.List) and isinstance(found.inner, pl.String)
    if wanted.is_numeric():
        return found.is_numeric()
    return type(found) is type(wanted)


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
