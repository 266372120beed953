"""How long a fit of sales in files takes: DuckDB, and Spark on 1 and 2 cores of this machine, with passes and bytes.

`python -m tests.bench.bench_spark [ROWS ...]` (1 and 10 million, unless said). Each fit runs in a process of its own.
"""

import json
import pickle
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb

from pipeline import clock
from pipeline.answers.fit.run import fit_files
from pipeline.hedonic.source import Sums, Tally
from pipeline.hedonic.spark import SparkCoded
from pipeline.shipped import shipped
from sample_data.generator import write_parquet

ROWS = (1_000_000, 10_000_000)
MASTERS = ("", "local[1]", "local[2]")
"""Where the files are read: by DuckDB, and by Spark on 1 and 2 cores."""

NAMED = """
COPY (
    SELECT format('{:016x}', hash(file_row_number)) AS record_id, * EXCLUDE (file_row_number)
    FROM read_parquet($drawn, file_row_number = true)
) TO '$written' (FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE 250000)
"""


def make_files(folder: Path, rows: int) -> Path:
    """Write so many drawn sales, each with an identity, and return their folder."""
    drawn, place = folder / "drawn.parquet", folder / str(rows)
    place.mkdir()
    write_parquet(drawn, rows, seed=1)
    with duckdb.connect() as connection:
        connection.execute(NAMED.replace("$written", str(place / "sales.parquet")), {"drawn": str(drawn)})
    drawn.unlink()
    return place


def fit(files: str, master: str) -> dict[str, float | int]:
    """Fit the files in this process, and return what it took."""
    spent: Counter[str] = Counter()
    plain = SparkCoded.add_up

    def counted(coded: SparkCoded, tally: Tally) -> Sums:
        began = time.perf_counter()
        sums = plain(coded, tally)
        spent.update(passes=1, seconds_of_passes=time.perf_counter() - began, partitions=coded.partitions)
        spent.update({"bytes_of_sums": len(pickle.dumps(sums)), "bytes_of_tallies": len(pickle.dumps(tally))})
        return sums

    SparkCoded.add_up = counted  # type: ignore[method-assign]
    with TemporaryDirectory() as folder:
        began = time.perf_counter()
        ledger, market = Path(folder) / "pairband.duckdb", shipped("sample_data") / "market.toml"
        summary = fit_files(ledger, market, files, spark=master or None, fitted_at=clock.now())
    passes = max(spent["passes"], 1)
    return {
        "sales": summary.sales,
        "seconds": round(time.perf_counter() - began, 1),
        "passes": spent["passes"],
        "seconds a pass": round(spent["seconds_of_passes"] / passes, 2),
        "partitions": spent["partitions"] // passes,
        "MB of sums a partition and pass": round(spent["bytes_of_sums"] / passes / 1e6, 3),
        "MB of a tally": round(spent["bytes_of_tallies"] / passes / 1e6, 3),
        "MB of this process": most_memory(),
    }


def most_memory() -> int:
    """Return the most memory that this process held, in MB (`getrusage` also counts the process that began it)."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))) // 1024


def main() -> None:
    """Print a line of JSON for each number of rows and each way of reading."""
    if len(sys.argv) == 3 and not sys.argv[1].isdigit():
        print(json.dumps(fit(*sys.argv[1:])))
        return
    for rows in map(int, sys.argv[1:] or ROWS):
        with TemporaryDirectory() as folder:
            files = make_files(Path(folder), rows)
            for master in MASTERS:
                command = [sys.executable, "-m", "tests.bench.bench_spark", str(files), master]
                ran = subprocess.run(command, capture_output=True, text=True, check=False)
                print(
                    f"{rows:,} sales, {master or 'DuckDB'}: {ran.stdout.strip() or ran.stderr.strip()}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
