"""`pairband map` prints where nobody can answer, and never into the market file that it reads."""

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.config import load_market
from pipeline.ingest.proposal import Holds, propose_likely_map, propose_map
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


GERMAN = """Lagernr;Eingekauft am;Einkaufspreis;Aufarbeitung;Preis;Angeboten bei;Angebot bis;Bezeichnung
B-1;23.05.2026;75,18;20,00;180;Holm Sound Auctions;01.12.2026;Gannet Hi UK 9
B-2;14.06.2026;172,70;;320;;;Plover Lo UK 8
"""
ENGLISH = """Stock no,Bought on,Cost,Restoration,Asking price,Where,Until,Title
B-1,2026-05-23,75.18,20.00,180,Lantern Dock,2026-12-01,Gannet Hi UK 9
B-2,2026-06-14,172.70,,320,,,Plover Lo UK 8
"""


@pytest.mark.parametrize("text", [GERMAN, ENGLISH], ids=["German", "English"])
def test_the_headings_of_a_stock_list_are_those_of_a_stock_list(text: str, tmp_path: Path) -> None:
    (tmp_path / "market.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    proposed = propose_map(tmp_path / "list.csv", load_market(tmp_path / "market.toml"), "stock")

    assert [one.field for one in proposed.columns] == [
        *("stock_ref", "bought_on", "price_native", "work_paid", "ask_native", "offered_at"),
        *("closed_on", "title"),
    ]


@pytest.mark.parametrize("text", [GERMAN, ENGLISH], ids=["German", "English"])
def test_a_stock_list_is_known_by_its_headings(text: str, tmp_path: Path) -> None:
    (tmp_path / "market.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    market = load_market(tmp_path / "market.toml")
    assert propose_likely_map(tmp_path / "list.csv", market, None)[0] == "stock"
    assert propose_likely_map(tmp_path / "list.csv", market, "sales")[0] == "sales"


def test_an_account_of_sales_that_says_the_cost_too_is_one_of_sales(tmp_path: Path) -> None:
    (tmp_path / "market.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "list.csv").write_text(
        "Stock no,Title,Bought on,Cost,Sold on,Sold for,Venue\n"
        "B-1,Gannet Hi UK 9,2026-05-23,75.18,2026-07-01,180,Lantern Dock\n"
        "B-2,Plover Lo UK 8,2026-05-29,35.50,2026-08-03,95,Lantern Dock\n",
        encoding="utf-8",
    )
    assert (
        propose_likely_map(tmp_path / "list.csv", load_market(tmp_path / "market.toml"), None)[0] == "sales"
    )


def test_the_days_and_amounts_of_a_stock_list_are_written_as_its_own_cells_are(tmp_path: Path) -> None:
    (tmp_path / "market.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "list.csv").write_text(GERMAN, encoding="utf-8")
    proposed = propose_map(tmp_path / "list.csv", load_market(tmp_path / "market.toml"), "stock")

    said = {each.key: each.value for each in proposed.settings}
    assert (said["date_order"], said["decimal_mark"]) == ("dmy", ",")


def test_a_stock_list_asks_for_no_venue_and_takes_the_owners_currency(tmp_path: Path) -> None:
    (tmp_path / "market.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "list.csv").write_text(
        "Stock no,Title,Bought on,Cost\nB-1,Gannet Hi UK 9,2026-05-23,75.18\n", encoding="utf-8"
    )
    market = load_market(tmp_path / "market.toml")
    proposed = propose_map(tmp_path / "list.csv", market, "stock")

    said = {each.key: each.value for each in proposed.settings}
    assert said["currency"] == market.base_currency
    assert market.venue(str(said["venue"])).currency == market.base_currency
    assert not {"venue", "currency"} & {each.key for each in proposed.questions}


@pytest.mark.parametrize(
    ("holds", "day", "basis"), [("stock", "bought_on", "all-in"), ("lots", "closed_on", "hammer")]
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
