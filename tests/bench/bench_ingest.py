"""How long exports take to become a ledger, against DuckDB's bare read and cast of the same file.

Run it with `python -m tests.bench.bench_ingest [ROWS ...]`; it prints one line a size. The bound is at most ten
times the bare read and 1.5 GB for a million rows, and time that grows no faster than the rows.
"""

import resource
import subprocess
import sys
import tempfile
import time
from datetime import date, datetime
from pathlib import Path
from statistics import median

import duckdb
import numpy as np
import polars as pl

REPEATS, FEW = 3, 1_000_000
"""How often the two are measured in turn, up to how many rows; their medians are printed."""

SIZES = (100_000, 1_000_000, 5_000_000)
BARE = """
CREATE TABLE bare AS
SELECT
    item, title, CAST(listed AS DATE) AS listed, CAST(ended AS DATE) AS ended, state,
    CAST(asked AS DECIMAL(18, 4)) AS asked, CAST(sold_for AS DECIMAL(18, 4)) AS sold_for,
    size, CAST(nullif(grade, '') AS DOUBLE) AS grade, box, sku
FROM read_csv($path, all_varchar = true, header = true)
"""
WORDS = {
    "pair": ("Ostrel Gannet Hi, Buoy Red", "Gannet Hi in Slate Tide", "Marrowick Plover Lo, Kelp", "Plover Lo Kelp"),
    "era": (", first run", ", og 85", ", re-issue", ""),
    "box": (", original box", ", no box", ", replacement box", ""),
    "work": (", resoled", ", never restored", ", deep cleaned", ""),
    "fault": (", yellowed", ", cracked overlay", ""),
    "end": ("", ", smoke-free home", ", quick post", ", see pictures"),
}  # fmt: skip
SIZE_LABELS = tuple(f"UK {half / 2:g}" for half in range(12, 25))
GRADES = ("", "10", "9", "8.5", "7", "5.5")


def write_export(path: Path, rows: int) -> None:
    """Write an invented export of listings, a CSV with the columns of the small market's map of Lantern Dock."""
    draws = np.random.default_rng(7)

    def any_of(words: tuple[str, ...]) -> pl.Series:
        return pl.Series(words)[draws.integers(0, len(words), rows)]

    listed = pl.Series(np.datetime64("2016-01-01") + draws.integers(0, 3_600, rows)).cast(pl.Date)
    sold = pl.Series(draws.random(rows) < 0.8)
    prices = (
        pl.Series(np.round(np.exp(draws.normal(5.2, 0.6, rows)), 2)).cast(pl.Decimal(18, 2)).cast(pl.String)
    )
    size = any_of(SIZE_LABELS)
    titles = [any_of(words) for words in WORDS.values()]
    pl.DataFrame(
        {"listed": listed, "sold": sold, "price": prices, "size": size, "grade": any_of(GRADES)}
    ).select(
        item=pl.int_range(pl.len()).cast(pl.String),
        title=pl.concat_str([*titles, pl.lit(", ") + size]),
        listed="listed",
        ended=pl.col("listed") + pl.duration(days=30),
        state=pl.when("sold").then(pl.lit("sold")).otherwise(pl.lit("ended")),
        asked="price",
        sold_for=pl.when("sold").then("price"),
        size="size",
        grade="grade",
        box=any_of(("original", "none", "")),
        sku=pl.lit(None, dtype=pl.String),
    ).write_csv(path)


def read_bare(path: Path, ledger: Path) -> None:
    """Read and cast the file by the engine alone, into a table on disk."""
    with duckdb.connect(str(ledger)) as engine:
        engine.execute(BARE, {"path": str(path)}).fetchall()


def ingest(path: Path, ledger: Path) -> None:
    """Read the file into a ledger."""
    from pipeline.config import load_market
    from pipeline.ingest.run import ingest_files
    from pipeline.ledger import open_ledger

    market = load_market(Path(__file__).parents[1] / "market.toml")
    with open_ledger(ledger, create=True) as opened:
        ingest_files(opened, market, [path], as_of=date(2026, 6, 30), loaded_at=datetime(2026, 6, 30))


def measure(job: str, path: Path) -> tuple[float, float]:
    """Return (seconds, gigabytes at the most) of one job in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        command = [
            sys.executable,
            "-m",
            "tests.bench.bench_ingest",
            job,
            str(path),
            f"{folder}/ledger.duckdb",
        ]
        seconds, kilobytes = subprocess.run(
            command, check=True, stdout=subprocess.PIPE, text=True
        ).stdout.split()
    return float(seconds), float(kilobytes) / 1_048_576


def main(sizes: tuple[int, ...]) -> None:
    """Print a line a size."""
    print(f"{'rows':>10} {'bare s':>8} {'ingest s':>9} {'times':>6} {'GB':>5} {'us a row':>9}")
    for rows in sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "lantern_bench.csv"
            write_export(path, rows)
            runs = [
                (measure("bare", path), measure("ingest", path)) for _ in range(1 if rows > FEW else REPEATS)
            ]
            bare = median(seconds for (seconds, _), _ in runs)
            took = median(seconds for _, (seconds, _) in runs)
            gigabytes = max(most for _, (_, most) in runs)
        print(
            f"{rows:>10,} {bare:>8.2f} {took:>9.2f} {took / bare:>6.1f} {gigabytes:>5.2f} {took / rows * 1e6:>9.2f}"
        )


if __name__ == "__main__":
    if sys.argv[1:2] in (["bare"], ["ingest"]):
        job = {"bare": read_bare, "ingest": ingest}[sys.argv[1]]
        started = time.perf_counter()
        job(Path(sys.argv[2]), Path(sys.argv[3]))
        print(time.perf_counter() - started, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    else:
        main(tuple(map(int, sys.argv[1:])) or SIZES)
