"""The same exports and market file give the same bytes of JSON, whatever the threads and the seed of hashes."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults import make_folder

COMMANDS = (
    ["ingest", "lantern_2023.csv", "lantern_2024.csv", "--json"],
    ["fit", "--json"],
    ["appraise", "--silhouette", "Gannet Hi", "--grade", "7", "--on", "2024-10-01", "--json"],
    ["review", "--json"],
)
PROGRAM = """
import contextlib, json, sys
from pipeline.cli import main
for command in json.loads(sys.argv[1]):
    sys.argv = ["pairband", *command]
    with contextlib.suppress(SystemExit):
        main()
"""
ALONE = {"OPENBLAS_NUM_THREADS": "1", "POLARS_MAX_THREADS": "1", "PYTHONHASHSEED": "1"}
TOGETHER = {"OPENBLAS_NUM_THREADS": "2", "POLARS_MAX_THREADS": "3", "PYTHONHASHSEED": "2"}


def _said(folder: Path, settings: dict[str, str], *, one_processor: bool) -> str:
    """Return what the commands print in another process; the engine has a thread a processor."""
    import json

    make_folder(folder, sales=24)
    ran = subprocess.run(
        [sys.executable, "-c", PROGRAM, json.dumps(COMMANDS)],
        cwd=folder,
        env=os.environ | settings | {"PYTHONPATH": str(Path(__file__).parents[2])},
        preexec_fn=(lambda: os.sched_setaffinity(0, {min(os.sched_getaffinity(0))}))
        if one_processor
        else None,
        capture_output=True,
        text=True,
        check=True,
    )
    return ran.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="how a process is kept to one processor is Linux's own")
def test_the_same_inputs_give_the_same_bytes_of_json(tmp_path: Path) -> None:
    alone = _said(tmp_path / "alone", ALONE, one_processor=True)
    together = _said(tmp_path / "together", TOGETHER, one_processor=False)
    assert alone.count('"median"') >= 1
    assert alone == together
