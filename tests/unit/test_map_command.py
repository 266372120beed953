"""`pairband map` prints where nobody can answer, and never into the market file that it reads."""

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.config import load_market
from pipeline.ingest.proposal import Holds, propose_map
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


LIST = """Stock no,Title,Bought,Paid,Status
TP-1,Gannet Hi UK 9,2024-03-04,80,sold
TP-2,Plover Lo UK 8,2024-05-04,60,sold
"""


@pytest.mark.parametrize(
    ("holds", "day", "basis"), [("stock", "offered_on", "all-in"), ("lots", "closed_on", "hammer")]
)
def test_a_list_that_is_no_export_of_sales_is_mapped_as_what_it_holds(
    holds: Holds, day: str, basis: str, tmp_path: Path
) -> None:
    (tmp_path / "market.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "list.csv").write_text(LIST, encoding="utf-8")

    proposed = propose_map(tmp_path / "list.csv", load_market(tmp_path / "market.toml"), holds)

    said = {each.key: each.value for each in proposed.settings}
    assert (said["holds"], said["price_basis"]) == (holds, basis)
    fields = {one.field for one in proposed.columns} | {each.key for each in proposed.questions}
    assert {day, "price_native"} <= fields
    assert not fields & {"sold_on", "status"}
