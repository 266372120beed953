"""How long `pairband fit` takes, and how much memory, as a whole process; beside it the regression alone by peers.

Run: python -m tests.bench.bench_fit [--sales 10000 100000 1000000] [--folder DIR] [--without-peers]

The sales are the sample generator's, written straight into a ledger of the demo's market file; the ledgers stay in the
folder, to be used again, and each fit starts from a copy. At most 5 s for 100,000 sales, 60 s and 1.5 GB for a million,
on 2 cores with nothing else to do, and no more for each sale than the smaller ledger took.

The peers get the same sales as a Parquet file and estimate the main effects once, by least squares: no
curves, no shrinkage, no weights, no scatter, no bands. "dummies" and "dense" estimate every level, "absorbed" sweeps
out colourway, month and size. pyfixest and statsmodels are optional. On a busy machine compare the processor times.
"""

import argparse
import os
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path
from shutil import copy

import polars as pl

from pipeline.ingest.normalise import staged_schema
from pipeline.ledger import open_ledger
from pipeline.schema import SALE_RECORD
from pipeline.shipped import shipped
from sample_data.generator import CHUNK, draw_sales
from tests.bench.bench_hedonic_speed import PYFIXEST, STATSMODELS, free_gibibytes, time_engine

SIZES = (10_000, 100_000, 1_000_000)
SEED = 17
FILE, DAY = "drawn", datetime(2026, 10, 1)
"""The one export of a drawn ledger, and the day on which it was read."""

LISTS = ("parts", "defects", "treatments")
PLAIN = ("era", "grade", "box", "tags", "overlay", "venue")
SWEPT = ("colourway", "month", "size_mm")


def draw_ledger(folder: Path, sales: int) -> Path:
    """Return a folder with a market file and a ledger of so many drawn sales; made where it is not there."""
    place = folder / f"{sales}"
    ledger = place / "pairband.duckdb"
    if ledger.exists():
        return place
    place.mkdir(parents=True, exist_ok=True)
    copy(shipped("sample_data") / "market.toml", place)
    making = place / "making.duckdb"
    making.unlink(missing_ok=True)
    with open_ledger(making, create=True) as opened, opened.transaction():
        read = {"run_id": 1, "file_sha256": FILE, "file_name": FILE, "rows_read": sales}
        opened.run("staging/runs", run_id=1, loaded_at=DAY, as_of=DAY.date(), program_version="bench")
        opened.run("staging/source_files", **read, map_name=FILE, reading_digest=FILE, size_bytes=0)
        none = dict.fromkeys(("duplicates", "quarantined", "put_aside", "further_pairs"), 0)
        opened.run("staging/run_files", **read, recorded=sales, **none)
        for part, first in enumerate(range(0, sales, CHUNK)):
            drawn = draw_sales(min(CHUNK, sales - first), seed=SEED, part=part)
            opened.write("staging/staged_rows", as_staged(drawn, first), file_sha256=FILE)
    making.rename(ledger)
    return place


def as_staged(drawn: pl.DataFrame, first: int) -> pl.DataFrame:
    """Return drawn sales as staged rows, numbered from `first`, each a lot with a title of its own."""
    price = pl.col("price_paid").round(2).cast(pl.Decimal(18, 4))
    size = pl.col("foot_mm").cast(pl.String)
    schema, origins = staged_schema(), [f"{column.name}_origin" for column in SALE_RECORD if column.origin]
    rows = drawn.with_row_index("row_id", offset=first).with_columns(
        pl.col("row_id").cast(pl.Int64),
        *(pl.lit("stated").alias(name) for name in origins),
        sheet=pl.lit(""),
        row_number=pl.col("row_id").cast(pl.Int64) + 1,
        lot_ref=pl.format("L{}", "row_id"),
        title=pl.format("{} {}, {}, {} mm, lot {}", "silhouette", "colourway", "era", size, "row_id"),
        status=pl.lit("sold"),
        closed_on="sold_on",
        currency=pl.lit("EUR"),
        price_basis=pl.lit("all-in"),
        price_native=price,
        all_in_native=price,
        rate=pl.lit(1.0),
        rate_on="sold_on",
        price_paid=price,
        size_label=pl.format("{} mm", size),
        size_system=pl.lit("mm"),
        flags=pl.lit([], dtype=pl.List(pl.String)),
        held_out=pl.lit(value=False),
    )
    unsaid = [
        pl.lit(None, dtype=dtype).alias(name) for name, dtype in schema.items() if name not in rows.columns
    ]
    return rows.select(
        "row_id", "sheet", "row_number", *(name for name in schema if name in rows.columns), *unsaid
    )


def fit_process(place: Path) -> tuple[float, float, float]:
    """Return (seconds, processor seconds, gigabytes at most) of `pairband fit` on a copy of the ledger."""
    with tempfile.TemporaryDirectory(dir=place) as name:
        for file in ("market.toml", "pairband.duckdb"):
            copy(place / file, name)
        begun = time.perf_counter()
        child = os.posix_spawn(
            sys.executable,
            [
                sys.executable,
                "-c",
                "import os, sys; os.chdir(sys.argv.pop()); from pipeline.cli import main; main()",
                "fit",
                name,
            ],
            {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            file_actions=[(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)],
        )
        _, status, used = os.wait4(child, 0)
        seconds = time.perf_counter() - begun
    if status:
        raise SystemExit(f"pairband fit ended with {os.waitstatus_to_exitcode(status)}")
    return seconds, used.ru_utime + used.ru_stime, used.ru_maxrss / 2**20


def write_effects(place: Path) -> Path:
    """Return the fitted sales as a Parquet file: a column for each flag, a colourway with its silhouette."""
    path = place / "effects.parquet"
    if path.exists():
        return path
    with open_ledger(place / "pairband.duckdb", read_only=True) as opened:
        sales = opened.read("marts/priced_sales", silhouette=None, most=None)
    flags = [
        pl.col(column).list.contains(flag).cast(pl.Int8).alias(f"{column}_{number}")
        for column in LISTS
        for number, flag in enumerate(sorted(sales[column].explode().drop_nulls().unique()))
    ]
    sales.select(
        "log_price",
        *PLAIN,
        pl.concat_str("silhouette", "colourway", separator=" ").alias("colourway"),
        "month",
        "size_mm",
        *flags,
    ).write_parquet(path)
    return path


def peers(path: Path) -> dict[str, tuple[str, float, int]]:
    """Return each peer's code, its memory in GiB a million sales, and the most sales that it is asked for."""
    flags = [name for name in pl.read_parquet_schema(path) if name.startswith(LISTS)]
    shared = " + ".join([f"C({name})" for name in PLAIN] + flags)
    absorbed = f"log_price ~ {shared} | {' + '.join(SWEPT)}"
    dummies = f"log_price ~ {shared} + {' + '.join(f'C({name})' for name in SWEPT)}"
    return {
        "pyfixest, absorbed": (PYFIXEST.format(formula=absorbed), 1.65, 10**9),
        "pyfixest, dummies": (PYFIXEST.format(formula=dummies), 9.0, 10**6),
        "statsmodels, dense": (STATSMODELS, 9.0, 10**6),
    }


def measure(place: Path, sales: int, *, with_peers: bool) -> pl.DataFrame:
    """Return one row an engine: engine, sales, seconds, cpu_seconds, gigabytes, the ratios to `pairband fit`, note."""
    seconds, processor, gigabytes = fit_process(place)
    ours = {"seconds": seconds, "cpu_seconds": processor, "gigabytes": gigabytes}
    lines: list[dict[str, object]] = [{"engine": "pairband fit", "sales": sales, **ours}]
    for engine, (body, gibibytes, most) in peers(write_effects(place)).items() if with_peers else ():
        line: dict[str, object] = {"engine": engine, "sales": sales}
        need = gibibytes * sales / 1e6
        if sales > most or 1.1 * need > free_gibibytes():
            lines.append({**line, "note": f"needs about {need:.0f} GiB: left out"})
            continue
        measured = time_engine(body, place / "effects.parquet", 1)
        if "fault" in measured:
            lines.append({**line, "note": str(measured["fault"])[:60]})
            continue
        theirs = {name: float(measured[name]) for name in ("seconds", "cpu_seconds", "mebibytes")}  # type: ignore[arg-type]
        theirs["gigabytes"] = theirs.pop("mebibytes") / 1024
        ratios = {f"ours_to_its_{name}": value / theirs[name] for name, value in ours.items()}
        lines.append({**line, **theirs, **ratios})
    return pl.DataFrame(lines, infer_schema_length=None)


def main() -> None:
    """Print a table for each ledger, the peers beside the fit, and one of the growth."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sales", type=int, nargs="+", default=list(SIZES))
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "pairband-bench-fit")
    parser.add_argument("--without-peers", action="store_true")
    asked = parser.parse_args()
    shown = pl.Config(
        tbl_rows=50, tbl_cols=20, tbl_width_chars=160, float_precision=2, tbl_hide_dataframe_shape=True
    )
    with shown:
        found = []
        for sales in sorted(asked.sales):
            place = draw_ledger(asked.folder, sales)
            found.append(measure(place, sales, with_peers=not asked.without_peers))
            print(found[-1], flush=True)
        print(growth(pl.concat(found, how="diagonal")))


def growth(found: pl.DataFrame) -> pl.DataFrame:
    """Return what each fit took of the processor for a sale, and the ratio to the next smaller ledger."""
    each = pl.col("cpu_seconds") / pl.col("sales")
    fits = found.filter(pl.col("engine") == "pairband fit")
    return fits.select(
        "sales", "seconds", "cpu_seconds", "gigabytes", us_a_sale=1e6 * each, growth=each / each.shift(1)
    )


if __name__ == "__main__":
    main()
