"""Every example in the commands' help and in the README does what it says, in the demo's folder as it stands."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from pipeline.cli import COMMANDS, app
from tests.desks import running_desk
from tests.processes import uncounted

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
NOT_TO_BE_TYPED = re.compile(r"…|\bCOMMAND\b|\bNAME\b|^pairband \w+$")
"""What stands for something else in a line of the README, or is a command's bare name."""

SPANS = [span for span in re.findall(r"`(pairband [^`]+)`", README) if not NOT_TO_BE_TYPED.search(span)]
HELP = [
    (app.get_command(click.Context(app), name).help or "").split("Example: ", 1)[1].split("\n")[0]  # type: ignore[union-attr]
    for name in COMMANDS
]
ANSWERS = {"audit": (0, 3), "doctor": (0, 3)}
"""The exit codes of commands that answer by them: a band did not hold, the doctor found something to do."""


OPEN = {line for line in (*HELP, *SPANS) if line.startswith("pairband desk")}
"""The examples that go on until the owner ends them."""

DEMO = "pairband demo"
"""The example that makes the folder of all others."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo and, on its path, the command as it is in this checkout."""
    folder = tmp_path_factory.mktemp("examples")
    command = folder / "bin" / "pairband"
    command.parent.mkdir()
    command.write_text(
        f'#!/bin/sh\nexec "{sys.executable}" -c "from pipeline.cli import main; main()" "$@"\n'
    )
    command.chmod(0o755)
    done = _typed(DEMO, folder)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "demo"


def _typed(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a line as it would be typed into a shell in that folder."""
    home = next(parent for parent in (folder, *folder.parents) if (parent / "bin" / "pairband").exists())
    path = f"{home / 'bin'}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["/bin/sh", "-c", line],
        cwd=folder,
        env={**uncounted(), "PATH": path, "PYTHONPATH": str(ROOT), "TERM": "dumb"},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


def _filled_in(line: str, folder: Path) -> str:
    """Return the line, with a file, copy or record of this folder where the example has one of its own."""
    exports = folder / "exports"
    shutil.copy(exports / "stock.csv", folder / "export.csv")
    shutil.copy(exports / "stock.csv", folder / "new_venue.csv")
    line = line.replace("/media/stick", str(folder / "stick")).replace("map FILE", "map export.csv")
    if line == "pairband ingest export.csv another.xlsx":
        line = " ".join(
            ["pairband ingest", *(f"exports/{file.name}" for file in sorted(exports.iterdir())[:2])]
        )
    if line == "pairband init":
        (folder / "market.toml").unlink()
    if line.startswith("pairband recover"):
        assert _typed("pairband backup", folder).returncode == 0
        copy = next((folder / "copies").glob("*.duckdb"))
        line = f"pairband recover {copy.relative_to(folder)}"
    if "6f1c2a 91b04d" in line:
        listed = json.loads(_typed("pairband review --json", folder).stdout)["excluded_sales"]
        line = line.replace("6f1c2a 91b04d", " ".join(sale["record_id"] for sale in listed[:2]))
    if "6f1c2a" in line:
        [listed] = json.loads(_typed("pairband records --json --limit 1", folder).stdout)["listed"]
        line = line.replace("6f1c2a", listed["short_id"])
    if line.startswith("pairband undo"):
        [listed] = json.loads(_typed("pairband records --json --limit 1", folder).stdout)["listed"]
        assert _typed(f"pairband correct {listed['short_id']} grade=8", folder).returncode == 0
    return line


@pytest.mark.parametrize("line", sorted({*HELP, *SPANS} - OPEN - {DEMO}))
def test_an_example_runs_in_the_demo_as_it_stands(line: str, demo: Path) -> None:
    folder = demo.parent / "here"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(demo, folder)

    done = _typed(_filled_in(line, folder), folder)

    assert done.returncode in ANSWERS.get(line.split()[1], (0,)), done.stdout + done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("line", sorted(OPEN))
def test_an_example_of_the_desk_opens_a_folder_as_it_stands(line: str, demo: Path) -> None:
    with running_desk(demo.parent / line.split()[2]) as address:
        assert address.startswith("http://127.0.0.1:")
