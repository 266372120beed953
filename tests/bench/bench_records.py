"""How long a page of records takes among a million, and one record beside its row; and how long on the desk.

Run: python -m tests.bench.bench_records [--rows 1000000] [--folder DIR] [--ledger FOLDER]

The ledger is ten exports of one venue (a third with a stock number of the owner's, which two offers share; a thousand
grades corrected); it stays in the folder, to be used again. Cold opens the ledger for the request, as the desk does;
warm asks an open one again. At most 300 ms cold, and 1 GB of memory for the whole process. The desk is run on a copy
of the folder as a process of its own, and asked for whole pages. On a busy machine compare the processor times, which
are those of all threads together.
"""

import argparse
import os
import re
import resource
import tempfile
import time
from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from http.cookiejar import CookieJar
from pathlib import Path
from shutil import copy
from statistics import median
from urllib.parse import quote, urlsplit
from urllib.request import HTTPCookieProcessor, build_opener

import polars as pl

from pipeline.answers.records.answer import Records
from pipeline.answers.records.run import NEWEST, Order, Wanted, find_records, show_record
from pipeline.config import Market, load_market
from pipeline.ingest.put_right import derive_again, keep_decisions
from pipeline.ingest.run import ingest_files
from pipeline.ledger import open_ledger
from pipeline.workspace import LEDGER_FILE, MARKET_FILE, Workspace
from tests.bench.bench_ingest import write_export
from tests.desks import desk_process

DAY = date(2026, 6, 30)
NOW = datetime(2026, 6, 30)
REPEATS, PAGE, CORRECTED = 3, 50, 1_000


def draw_ledger(folder: Path, rows: int) -> Path:
    """Return a folder with a market file and a ledger of so many records; made where it is not there."""
    place = folder / f"{rows}"
    if (place / LEDGER_FILE).exists():
        return place
    place.mkdir(parents=True, exist_ok=True)
    copy(Path(__file__).parents[1] / MARKET_FILE, place)
    market = load_market(place / MARKET_FILE)
    making = place / "making.duckdb"
    making.unlink(missing_ok=True)
    with open_ledger(making, create=True) as ledger:
        ingest_files(ledger, market, write_exports(place, rows), as_of=DAY, loaded_at=NOW)
        newest = find_records(ledger, market, Wanted(), first=CORRECTED).listed
        corrections = pl.DataFrame({"record_id": [record.record_id for record in newest]}).with_columns(
            kind=pl.lit("correct"),
            other_id="record_id",
            field=pl.lit("grade"),
            value=pl.lit("7"),
            note=pl.lit(""),
            ruled_at=pl.lit(NOW),
            step=pl.lit(0, dtype=pl.Int64),
        )
        with ledger.transaction():
            keep_decisions(ledger, corrections)
            derive_again(ledger, market, as_of=DAY)
    making.rename(place / LEDGER_FILE)
    return place


def write_exports(place: Path, rows: int) -> list[Path]:
    """Write an invented export of listings, a file a year; a hundredth names no silhouette."""
    whole = place / "whole.csv"
    write_export(whole, rows)
    number = pl.col("item").cast(pl.Int64)
    listings = pl.read_csv(whole, infer_schema=False).with_columns(
        sku=pl.when(number % 3 == 0).then(pl.format("S-{}", number // 6)),
        title=pl.when(number % 100 == 1)
        .then(pl.lit("Unnamed café pair, ") + pl.col("size"))
        .otherwise("title"),
    )
    whole.unlink()
    paths = []
    for (year,), listed in listings.group_by(pl.col("listed").str.slice(0, 4)):
        path = place / f"lantern_{year}.csv"
        listed.write_csv(path)
        paths.append(path)
    return sorted(paths)


def requests(rows: int) -> dict[str, tuple[Wanted, Order, int]]:
    """Return what is asked for: which records, in which order, from which on."""
    searches = {
        "all": Wanted(),
        "text of many": Wanted(said="quick post"),
        "text with an accent": Wanted(said="CAFÉ"),
        "text of none": Wanted(said="no such words"),
        "silhouette": Wanted(silhouette="Gannet Hi"),
        "venue": Wanted(venue="Lantern Dock"),
        "price": Wanted(least=100, most=150),
        "days": Wanted(since=date(2020, 1, 1), until=date(2020, 12, 31)),
        "not in the fit": Wanted(only_left_out=True),
        "corrected": Wanted(only_corrected=True),
        "file": Wanted(file_name="lantern_2020.csv"),
        "size": Wanted(size="UK 9"),
    }
    orders = [
        Order("pair"),
        Order("price", descending=True),
        Order("era"),
        Order("size"),
        Order("grade"),
        Order("venue"),
    ]
    return {
        **{name: (wanted, NEWEST, 0) for name, wanted in searches.items()},
        **{f"all by {order.by}": (Wanted(), order, 0) for order in orders},
        "all, nine tenths on": (Wanted(), NEWEST, 9 * rows // 10),
    }


def times(ask: Callable[[], object]) -> tuple[float, float]:
    """Return milliseconds and processor milliseconds of what is asked, the median of some."""
    walls, processors = [], []
    for _ in range(REPEATS):
        wall, processor = time.perf_counter(), time.process_time()
        ask()
        walls.append(1e3 * (time.perf_counter() - wall))
        processors.append(1e3 * (time.process_time() - processor))
    return median(walls), median(processors)


def measure(place: Path, rows: int) -> pl.DataFrame:
    """Return one row a request: its records, and milliseconds cold and warm, of the clock and of the processor."""
    market = load_market(place / MARKET_FILE)
    asks: dict[str, Callable[[Workspace], object]] = {
        name: partial(_page, market=market, wanted=wanted, order=order, start=start)
        for name, (wanted, order, start) in requests(rows).items()
    }
    for name, record_id in some_records(place).items():
        asks[name] = partial(_record, record_id=record_id)
    return pl.DataFrame([{"asked": name, **_measured(place, ask)} for name, ask in asks.items()])


def some_records(place: Path) -> dict[str, str]:
    """Return the ids of a record with a stock number and of one without, from within the list."""
    with Workspace.open(place) as workspace:
        listed = find_records(workspace.ledger, workspace.market, Wanted(), first=PAGE, start=700).listed
    return {
        "one with its number": next(one.record_id for one in listed if one.stock_ref is not None),
        "one without a number": next(one.record_id for one in listed if one.stock_ref is None),
    }


def measure_desk(place: Path, rows: int) -> tuple[pl.DataFrame, float]:
    """Return one row a page of the desk, with milliseconds until it is there, first and again; and its peak of GB."""
    paths = {
        "first page": "/",
        "records": "/records",
        **{
            f"records, {said}": f"/records?said={quote(said)}"
            for said in ("quick post", "CAFÉ", "no such words")
        },
        "records by price": "/records?sort=price&way=down",
        "records, nine tenths on": f"/records?start={9 * rows // 10}",
        **{name: f"/records/{record_id}" for name, record_id in some_records(place).items()},
        "doubts": "/doubts",
        "first page again": "/",
    }
    with tempfile.TemporaryDirectory() as folder:
        for name in (LEDGER_FILE, MARKET_FILE):
            copy(place / name, folder)
        with desk_process(Path(folder)) as (address, process):
            browser = build_opener(HTTPCookieProcessor(CookieJar()))
            parts = urlsplit(address)
            browser.open(address).read()
            measured = []
            for asked, path in paths.items():
                walls, processors = [], []
                for _ in range(1 + REPEATS):
                    wall, processor = time.perf_counter(), _processor_of(process)
                    browser.open(f"{parts.scheme}://{parts.netloc}{path}").read()
                    walls.append(1e3 * (time.perf_counter() - wall))
                    processors.append(1e3 * (_processor_of(process) - processor))
                measured.append(
                    {
                        "page": asked,
                        "first_ms": walls[0],
                        "again_ms": median(walls[1:]),
                        "first_cpu_ms": processors[0],
                        "again_cpu_ms": median(processors[1:]),
                    }
                )
            return pl.DataFrame(measured), _peak_of(process)


def _processor_of(process: int) -> float:
    """Return the seconds of processor time that a process has taken, in steps of a hundredth."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _peak_of(process: int) -> float:
    """Return the most memory that a process has held, in GB."""
    status = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
    [kilobytes] = re.findall(r"^VmHWM:\s+(\d+) kB$", status, flags=re.MULTILINE)
    return int(kilobytes) / 2**20


def _record(workspace: Workspace, record_id: str) -> object:
    return show_record(workspace, record_id, as_of=DAY)


def _page(workspace: Workspace, market: Market, wanted: Wanted, order: Order, start: int) -> Records:
    return find_records(workspace.ledger, market, wanted, first=PAGE, start=start, order=order)


def _measured(place: Path, ask: Callable[[Workspace], object]) -> dict[str, object]:
    def opened() -> None:
        with Workspace.open(place) as cold:
            ask(cold)

    cold, cold_processor = times(opened)
    with Workspace.open(place) as warm:
        found = ask(warm)
        again, again_processor = times(lambda: ask(warm))
    return {
        "records": found.matching if isinstance(found, Records) else 1,
        "cold_ms": cold,
        "cold_cpu_ms": cold_processor,
        "warm_ms": again,
        "warm_cpu_ms": again_processor,
    }


def main() -> None:
    """Print the times of answers with the peak memory of this process, and those of the desk with that of the desk."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "pairband-bench-records")
    parser.add_argument("--ledger", type=Path, help="Measure the ledger of this folder instead.")
    asked = parser.parse_args()
    place = asked.ledger or draw_ledger(asked.folder, asked.rows)
    with pl.Config(
        tbl_rows=50, tbl_cols=10, tbl_width_chars=120, float_precision=0, tbl_hide_dataframe_shape=True
    ):
        print(measure(place, asked.rows))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
        print(f"{peak:.2f} GB at most (of a process that also made the ledger, if it was not there)")
        pages, peak = measure_desk(place, asked.rows)
        print(pages)
        print(f"{peak:.2f} GB at most (of the desk)")


if __name__ == "__main__":
    main()
