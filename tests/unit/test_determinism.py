"""The same exports and market file give the same bytes of JSON, whatever the threads and the seed of hashes."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.shipped import shipped
from tests.processes import uncounted

EXPORTS = ("holm_2017_2019.csv",)
ROWS = 200
OTHERS = ("stock.csv", "upcoming_lots.csv")
ON = ("--on", "2020-01-31", "--json")
GANNET = ("--silhouette", "Gannet Hi", "--grade", "7")
COMMANDS = (
    ("ingest", *EXPORTS, "--json"),
    ("review", "--json"),
    ("fit", "--json"),
    ("appraise", *GANNET, *ON),
    ("appraise", *GANNET, "--era-odds", "first=0.6,second=0.4", *ON),
    ("consign", *GANNET, *ON),
    ("lots", "upcoming_lots.csv", *ON),
    ("lots", "--backtest", *ON),
    ("restore", "stock.csv", *ON),
    ("stock", "stock.csv", *ON),
    ("market", *ON),
    ("audit", "--json"),
)
PROGRAM = """
import contextlib, json, sys
from pipeline.cli import main
for command in json.loads(sys.argv[1]):
    sys.argv = ["pairband", *command]
    with contextlib.suppress(SystemExit):
        main()
    print("END OF", *command)
"""
ALONE = {"OPENBLAS_NUM_THREADS": "1", "POLARS_MAX_THREADS": "1", "PYTHONHASHSEED": "1"}
TOGETHER = {"OPENBLAS_NUM_THREADS": "2", "POLARS_MAX_THREADS": "3", "PYTHONHASHSEED": "2"}


def _said(folder: Path, settings: dict[str, str], *, one_processor: bool) -> dict[str, str]:
    """Return what each command prints, all in another process; the engine has a thread a processor."""
    folder.mkdir()
    scene = shipped("sample_data")
    shutil.copy(scene / "market.toml", folder)
    for name in (*EXPORTS, *OTHERS):
        lines = (scene / "exports" / name).read_bytes().splitlines(keepends=True)
        (folder / name).write_bytes(b"".join(lines[:ROWS]))
    ran = subprocess.run(
        [sys.executable, "-c", PROGRAM, json.dumps(COMMANDS)],
        cwd=folder,
        env=uncounted() | settings | {"PYTHONPATH": str(Path(__file__).parents[2])},
        preexec_fn=(lambda: os.sched_setaffinity(0, {min(os.sched_getaffinity(0))}))
        if one_processor
        else None,
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stderr == ""
    said = {}
    rest = ran.stdout
    for command in COMMANDS:
        name = " ".join(command)
        said[name], rest = rest.split(f"END OF {name}\n")
    return said


@pytest.mark.skipif(sys.platform != "linux", reason="how a process is kept to one processor is Linux's own")
def test_the_same_inputs_give_the_same_bytes_of_json(tmp_path: Path) -> None:
    alone = _said(tmp_path / "alone", ALONE, one_processor=True)
    together = _said(tmp_path / "together", TOGETHER, one_processor=False)
    for command, answer in alone.items():
        assert json.loads(answer), command
        assert together[command] == answer, command
