"""`pairband map` prints where nobody can answer, and never into the market file that it reads."""

import subprocess
import sys
from pathlib import Path

from pipeline.config import load_market
from tests.processes import uncounted

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "tests" / "market.toml").read_text(encoding="utf-8")
CODE = "from pipeline.cli import main; main()"


def mapped(folder: Path, end: str) -> "subprocess.CompletedProcess[str]":
    """Run `pairband map new.csv` in a folder of its own, with this end of a shell's line."""
    (folder / "market.toml").write_text(TEXT, encoding="utf-8")
    (folder / "new.csv").write_text("lot,title,date,price\n1,Gannet Hi,2021-03-04,80\n", encoding="utf-8")
    return subprocess.run(
        ["bash", "-c", f'"$@" {end}', "bash", sys.executable, "-c", CODE, "map", "new.csv"],
        cwd=folder,
        env=uncounted() | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_outside_a_terminal_the_map_is_printed(tmp_path: Path) -> None:
    assert "[maps.new]" in mapped(tmp_path, "").stdout


def test_a_map_is_never_printed_into_the_market_file(tmp_path: Path) -> None:
    done = mapped(tmp_path, ">> market.toml")
    assert (done.returncode, "the output would go into market.toml" in done.stderr) == (1, True)
    assert (tmp_path / "market.toml").read_text(encoding="utf-8") == TEXT


def test_a_map_that_is_printed_with_open_questions_says_so_in_comments(tmp_path: Path) -> None:
    assert "# price_basis = " in mapped(tmp_path, "--print").stdout


def test_the_market_file_is_good_after_the_command_printed(tmp_path: Path) -> None:
    mapped(tmp_path, "> map.txt")
    assert load_market(tmp_path / "market.toml").maps.keys() == {"holm", "lantern"}
