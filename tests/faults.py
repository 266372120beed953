"""A dealer's folder, the work that is done in it, and what its ledger holds: for killing the work midway."""

import multiprocessing
import os
import random
import shutil
import signal
from dataclasses import dataclass
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from pipeline.answers.care.copies import recover
from pipeline.answers.fit.run import fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.errors import PairbandError
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from pipeline.ledger.copies import compact
from tests.exports import LANTERN_HEADER, write_lantern

NOW = datetime(2026, 6, 30, 12)
WORKS = ("ingest", "fit")
TABLES = (
    "source_files",
    "run_files",
    "staged_rows",
    "quarantine",
    "unread_cells",
    "settled_rows",
    "settled_sales",
    "pair_histories",
    "rulings",
    "price_flags",
    "fits",
)
COUNTERS = {"source_files": "run_id", "run_files": "run_id", "fits": "fit_number", "rulings": "ruling_number"}
"""What counts how often something was done, which is more where it was begun and killed."""

Contents = dict[str, frozenset[tuple[str, ...]]]


@dataclass(frozen=True)
class Folder:
    """A folder with a market file, a ledger that holds one export, and two exports to read."""

    path: Path

    @property
    def ledger(self) -> Path:
        """The ledger."""
        return self.path / "pairband.duckdb"

    @property
    def copy(self) -> Path:
        """Where a copy of the ledger lies once one was made."""
        return self.path / "copy.duckdb"

    @property
    def exports(self) -> list[Path]:
        """The exports that are still to be read."""
        return [self.path / "lantern_2023.csv", self.path / "lantern_2024.csv"]


def make_folder(path: Path, *, sales: int) -> Folder:
    """Write a folder as a dealer has it after the first season."""
    folder = Folder(path)
    path.mkdir()
    shutil.copy(Path(__file__).parent / "market.toml", path / "market.toml")
    [first, *_] = [
        write_lantern(path, *_rows(year, sales), name=f"lantern_{year}.csv") for year in (2022, 2023, 2024)
    ]
    ingest_exports(folder.ledger, path / "market.toml", [first], map_name=None, loaded_at=NOW)
    return folder


def _rows(year: int, sales: int) -> list[str]:
    rng = random.Random(year)
    rows = []
    for number in range(sales):
        silhouette = rng.choice(["Gannet Hi Buoy Red", "Plover Lo Kelp", "Gannet Hi Kelp"])
        price = (80 + rng.randrange(150)) * (100 if number == 5 else 1)
        cells = {
            "item": f"L{year}{number}" if number % 9 else "L7",
            "title": f"{silhouette} first run",
            "listed": f"{year}-01-01",
            "ended": f"{year}-{rng.randint(1, 13):02d}-{rng.randint(1, 28):02d}",
            "sold_for": f"{price}.00",
            "asked": f"{price + 20}.00",
            "state": "sold",
            "size": f"UK {rng.randint(6, 10)}",
            "grade": str(rng.randint(5, 9)),
            "box": "original",
        }
        rows.append(",".join(cells.get(name, "") for name in LANTERN_HEADER.split(",")))
    return rows


def copied(folder: Folder, path: Path) -> Folder:
    """Return a copy of a folder."""
    shutil.copytree(folder.path, path)
    return Folder(path)


def do(work: str, folder: Folder) -> None:
    """Do the work in this process."""
    market = folder.path / "market.toml"
    if work == "ingest":
        ingest_exports(folder.ledger, market, folder.exports, map_name=None, loaded_at=NOW)
    elif work == "recover":
        recover(folder.copy, folder.ledger, market, now=NOW.replace(tzinfo=UTC))
    elif work == "compact":
        compact(folder.ledger)
    else:
        fit_ledger(folder.ledger, market, fitted_at=NOW)


def contents(folder: Folder) -> Contents:
    """Return all that a ledger holds but its counters of runs; raises AssertionError where a check is broken."""
    with open_ledger(folder.ledger, read_only=True) as ledger:
        broken = run_checks(ledger)
        if broken:
            raise AssertionError(f"{folder.ledger}: {broken[0]}")
        return {
            table: frozenset(
                tuple(map(repr, row))
                for row in ledger.connection.sql(
                    f"SELECT * EXCLUDE ({COUNTERS[table]}) FROM {table}"
                    if table in COUNTERS
                    else f"FROM {table}"
                ).fetchall()
            )
            for table in TABLES
        }


def states(work: str, folder: Folder) -> list[Contents]:
    """Return what the ledger of a folder holds before the work and after each step of it that is kept.

    Each file of `ingest` is kept by itself; `fit` is one step. The work is done in the folder.
    """
    told = [contents(folder)]
    steps = [folder.exports[: count + 1] for count in range(2)] if work == "ingest" else [None]
    for step in steps:
        if step is None:
            do(work, folder)
        else:
            ingest_exports(folder.ledger, folder.path / "market.toml", step, map_name=None, loaded_at=NOW)
        told.append(contents(folder))
    return told


class Worker:
    """Another process that is about to do the work: all is imported, and it waits for the word."""

    def __init__(
        self, work: str, folder: Folder, *, step: int | None = None, file_step: int | None = None
    ) -> None:
        """Start it; it kills itself as `kill -9` does before its `step`-th statement in the ledger.

        Or before the `file_step`-th time that it renames, links, removes or synchronises a file.
        """
        self._line, theirs = _ELSEWHERE.Pipe()
        self.process = _ELSEWHERE.Process(target=_work, args=(theirs, work, folder, step, file_step))
        self.process.start()
        theirs.close()
        self._line.recv()

    def begin(self) -> None:
        """Have it begin."""
        self._line.send("begin")

    def end(self) -> str:
        """Wait for its end; return the error that it met, or nothing where it met none or was killed."""
        try:
            told = str(self._line.recv())
        except EOFError:
            told = ""
        self.process.join()
        return told


_ELSEWHERE = multiprocessing.get_context("forkserver")
_ELSEWHERE.set_forkserver_preload(
    [
        "pipeline.answers.care.copies",
        "pipeline.answers.fit.run",
        "pipeline.answers.ingest.run",
        "tests.faults",
    ]
)


def _work(line: Connection, work: str, folder: Folder, step: int | None, file_step: int | None) -> None:
    line.send("ready")
    line.recv()
    if step is not None:
        _kill_oneself_at(step)
    if file_step is not None:
        _kill_oneself_at_file_step(file_step)
    try:
        do(work, folder)
    except PairbandError as exc:
        line.send(str(exc))
    else:
        line.send("")


def _kill_oneself_at(step: int) -> None:
    """Have this process killed at the STEP-th statement that the ledger is given from now on."""
    left = iter(range(step, -1, -1))
    given: Any = Ledger._translated

    def counted(ledger: Ledger) -> Any:
        if next(left, 1) == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return given(ledger)

    Ledger._translated = counted  # type: ignore[method-assign]


def _kill_oneself_at_file_step(step: int) -> None:
    """Have this process killed before the STEP-th change of a name, or synchronising, from now on."""
    left = iter(range(step, -1, -1))

    def counted(name: str) -> Any:
        given = getattr(os, name)

        def counting(path: Any, *arguments: Any, **named: Any) -> Any:
            if (isinstance(path, int) or os.path.lexists(path)) and next(left, 1) == 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return given(path, *arguments, **named)

        return counting

    for name in ("link", "rename", "replace", "unlink", "fsync"):
        setattr(os, name, counted(name))
