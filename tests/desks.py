"""A dealer's folder with a fit, and a desk of it that runs as a process of its own, for tests that browse."""

import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from click.testing import CliRunner

from pipeline.cli import app
from pipeline.shipped import shipped
from tests.folders import written_once
from tests.processes import uncounted

EXPORTS = ("holm_2020_2022.csv",)
LISTS = ("stock.csv", "upcoming_lots.csv")
DAY = date(2023, 1, 15)
"""A day shortly after the last sale of those exports."""

_PROGRAM = "from pipeline.cli import main; main()"


@written_once
def write_fitted_shop(folder: Path) -> None:
    """Write an invented dealer's folder with two exports, a stock list, lots to come, a ledger and a fit."""
    shutil.copy(shipped("sample_data") / "market.toml", folder)
    exports = folder / "exports"
    exports.mkdir()
    for name in (*EXPORTS, *LISTS):
        shutil.copy(shipped("sample_data") / "exports" / name, exports)
    places = ["--market", str(folder / "market.toml"), "--ledger", str(folder / "pairband.duckdb")]
    for line in (["ingest", *(str(exports / name) for name in EXPORTS)], ["fit"]):
        done = CliRunner().invoke(app, [*line, *places])
        if done.exit_code:
            raise RuntimeError(done.output)


@contextmanager
def running_desk(folder: Path, *, ends_by: signal.Signals = signal.SIGINT) -> Iterator[str]:
    """Run the desk of a folder, and give the address by which a browser enters; at the end it is sent a signal."""
    with desk_process(folder, ends_by=ends_by) as (address, _):
        yield address


@contextmanager
def desk_process(folder: Path, *, ends_by: signal.Signals = signal.SIGINT) -> Iterator[tuple[str, int]]:
    """Run the desk of a folder, and give the address by which a browser enters and the number of the process."""
    with begin_desk(folder) as desk:
        try:
            yield address_of(desk), desk.pid
        finally:
            desk.send_signal(ends_by)
            desk.wait(30)


def begin_desk(folder: Path) -> "subprocess.Popen[str]":
    """Begin the desk of a folder, to be ended by the caller."""
    command = [sys.executable, "-c", _PROGRAM, "desk", str(folder), "--no-browser"]
    streams = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    return subprocess.Popen(command, **streams, text=True, env=uncounted())


def address_of(desk: "subprocess.Popen[str]") -> str:
    """Return the address by which a browser enters a desk that was begun, once it says it."""
    said = []
    for line in desk.stdout or ():
        said.append(line)
        if found := re.search(r"http://\S+", line):
            return found[0]
    raise RuntimeError("".join(said))
