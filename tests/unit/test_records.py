"""Records are listed, searched and shown beside what their rows say; commands put them right in words."""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from pipeline.answers.ingest.run import ingest_exports
from pipeline.answers.records.answer import Records
from pipeline.answers.records.run import Wanted, find_records, show_record
from pipeline.cli import app
from pipeline.config import Market
from pipeline.errors import PairError, UnknownName
from pipeline.ledger import open_ledger
from pipeline.terminal.console import OUT
from pipeline.workspace import Workspace
from tests.exports import AS_OF, write_holm, write_lantern

HERE = Path(__file__).parents[1]
NOW = datetime(2026, 6, 30, 12)
HOLM = (
    "1;Gannet Hi Buoy Red, first run;04.03.2021;600,00;zugeschlagen;43;seen at the fair",
    "2;Plover Lo, café crème;05.03.2022;80;zugeschlagen;42;",
    "3;Gannet Hi, first run;06.03.2023;;zurück;42;",
    "4;Unheard Of Mid;07.03.2023;90;zugeschlagen;42;",
)
LANTERN = "7,TP-1,Gannet Hi second run,2021-02-01,2021-03-09,120,100,sold,UK 9,8,original"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the small market and a ledger of two exports."""
    folder = tmp_path_factory.mktemp("records")
    (folder / "market.toml").write_bytes((HERE / "market.toml").read_bytes())
    files = [write_holm(folder, *HOLM), write_lantern(folder, LANTERN)]
    ingest_exports(folder / "pairband.duckdb", folder / "market.toml", files, map_name=None, loaded_at=NOW)
    return folder


@pytest.fixture
def own_shop(shop: Path, tmp_path: Path) -> Path:
    """Return a copy of that folder, to be changed."""
    for name in ("market.toml", "pairband.duckdb"):
        (tmp_path / name).write_bytes((shop / name).read_bytes())
    return tmp_path


def _ran(folder: Path, *arguments: str) -> Result:
    places = ["--ledger", str(folder / "pairband.duckdb")]
    if arguments[0] != "review":
        places += ["--market", str(folder / "market.toml")]
    return CliRunner().invoke(app, [*arguments, *places])


def _shown(folder: Path, *arguments: str) -> str:
    ran = _ran(folder, *arguments)
    assert ran.exit_code == 0, ran.output
    return " ".join(ran.stdout.split())


def _found(shop: Path, market: Market, **wanted: Any) -> Records:
    with open_ledger(shop / "pairband.duckdb", read_only=True) as ledger:
        return find_records(ledger, market, Wanted(**wanted), first=None)


def _id(folder: Path, *words: str) -> str:
    listed = json.loads(_ran(folder, "records", *words, "--json").stdout)["listed"]
    return str(listed[0]["short_id"])


@pytest.mark.parametrize(
    ("wanted", "lots"),
    [
        ({}, ["4", "3", "2", "7", "1"]),
        ({"file_name": "lantern_2021.csv"}, ["7"]),
        ({"venue": "lantern dock"}, ["7"]),
        ({"silhouette": "gannet high"}, ["3", "7", "1"]),
        ({"era": "1st run"}, ["3", "1"]),
        ({"size": "UK 9"}, ["7", "1"]),
        ({"least": 100, "most": 200}, ["4", "2", "7"]),
        ({"since": datetime(2022, 1, 1).date()}, ["4", "3", "2"]),
        ({"until": datetime(2021, 3, 4).date()}, ["1"]),
        ({"said": "CAFE CREME"}, ["2"]),
        ({"said": "the fair"}, ["1"]),
        ({"said": "tp-1"}, ["7"]),
        ({"said": "4"}, ["4"]),
        ({"only_left_out": True}, ["4", "3"]),
        ({"only_corrected": True}, []),
    ],
)
def test_records_are_found_by_what_is_asked_for(
    shop: Path, market: Market, wanted: dict[str, Any], lots: list[str]
) -> None:
    assert [record.lot_ref for record in _found(shop, market, **wanted).listed] == lots


def test_a_list_says_why_a_record_is_not_in_the_fit(shop: Path, market: Market) -> None:
    uses = [record.use for record in _found(shop, market, only_left_out=True).listed]
    assert uses == ["no silhouette", "unsold"]


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ({"venue": "Lantern Duck"}, "did you mean 'Lantern Dock'"),
        ({"silhouette": "Gannet Hy"}, "did you mean 'Gannet Hi'"),
        ({"file_name": "holm_2012.csv"}, r"did you mean 'holm_2021.csv'"),
    ],
)
def test_a_word_that_names_nothing_is_refused(
    shop: Path, market: Market, wanted: dict[str, Any], words: str
) -> None:
    with pytest.raises(UnknownName, match=words):
        _found(shop, market, **wanted)


def test_a_size_that_is_none_is_refused(shop: Path, market: Market) -> None:
    with pytest.raises(PairError, match="size 'banana'"):
        _found(shop, market, size="banana")


def test_a_list_fits_a_terminal_of_eighty_columns(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(OUT, "_width", 80)
    lines = _ran(shop, "records").stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert any(line.startswith(_id(shop, "--text", "fair")) for line in lines)


def test_a_list_that_is_cut_short_says_how_many_there_are(shop: Path) -> None:
    shown = _shown(shop, "records", "--limit", "2")
    assert "5 records The newest 2 are shown" in shown


@pytest.mark.parametrize("asked", ["100..x", "400..100", "much"])
def test_a_price_range_that_is_none_is_refused(shop: Path, asked: str) -> None:
    ran = _ran(shop, "records", "--price", asked)
    assert (ran.exit_code, "Invalid value for '--price'" in ran.stderr) == (2, True)


def test_a_list_can_be_written_to_a_file(shop: Path, tmp_path: Path) -> None:
    _ran(shop, "records", "--csv", str(tmp_path / "list.csv"))
    assert len((tmp_path / "list.csv").read_text(encoding="utf-8-sig").splitlines()) == 6


def test_a_record_is_shown_beside_the_cells_of_its_row(shop: Path) -> None:
    shown = _shown(shop, "records", _id(shop, "--text", "fair"))
    assert "price Zuschlag: 600,00 600" in shown
    assert "era – first From title" in shown


def test_a_record_says_whether_it_is_in_the_fit_or_why_not(shop: Path) -> None:
    assert "In the fit no: without a silhouette" in _shown(shop, "records", _id(shop, "--text", "unheard"))


def test_a_record_shows_its_corrections(own_shop: Path) -> None:
    record = _id(own_shop, "--text", "fair")
    _ran(own_shop, "correct", record, "grade=8", "--reason", "seen again")
    with Workspace(own_shop / "pairband.duckdb", own_shop / "market.toml") as workspace:
        found = show_record(workspace, record, as_of=AS_OF)
    [grade] = [one for one in found.rows[0].fields if one.field == "grade"]
    assert (grade.corrected, found.decisions[0]["note"]) == ("8", "seen again")


def test_a_correction_by_a_dealers_own_words_says_what_followed(own_shop: Path) -> None:
    shown = _shown(own_shop, "correct", _id(own_shop, "--text", "fair"), "Price=500", "size=UK 10")
    assert "price 600 500 size 43 UK 10" in shown
    assert "paid 774 650 follows" in shown


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("grade",), "'grade' says no field"),
        (("grad=8",), "did you mean 'grade'"),
        (("grade=8", "Grade=7"), "Grade is said twice"),
    ],
)
def test_words_that_say_no_field_are_refused(shop: Path, words: tuple[str, ...], said: str) -> None:
    assert said in str(_ran(shop, "correct", _id(shop), *words).exception)


def test_nothing_is_removed_without_a_yes_where_nobody_can_be_asked(own_shop: Path) -> None:
    ran = _ran(own_shop, "remove", "--venue", "Lantern Dock")
    assert (ran.exit_code, "say --yes" in ran.stderr) == (2, True)
    assert "5 records" in _shown(own_shop, "records")


def test_records_that_match_are_removed_and_come_back(own_shop: Path) -> None:
    _ran(own_shop, "remove", "--silhouette", "Gannet Hi", "--yes")
    assert "2 records" in _shown(own_shop, "records")
    assert "3 rows removed" in _shown(own_shop, "records", "--removed")
    _ran(own_shop, "undo", "--last")
    assert "5 records" in _shown(own_shop, "records")


def test_a_whole_file_is_removed_by_one_decision(own_shop: Path) -> None:
    _ran(own_shop, "remove", "--file", "holm_2021.csv", "--yes")
    assert "1 decision " in _shown(own_shop, "decisions")
    assert "1 record " in _shown(own_shop, "records")


@pytest.mark.parametrize("arguments", [("remove", "--yes"), ("remove", "6f1c2a", "--venue", "x"), ("undo",)])
def test_a_command_that_does_not_say_on_what_is_refused(shop: Path, arguments: tuple[str, ...]) -> None:
    assert _ran(shop, *arguments).exit_code == 2


def test_a_sale_is_added_by_a_dealers_own_words(own_shop: Path) -> None:
    words = ("venue=lantern dock", "sold=2024-05-03", "price=240", "silhouette=Gannet Hi", "size=UK 9")
    assert "No other row records this sale." in _shown(own_shop, "add", *words)
    assert "6 records" in _shown(own_shop, "records")


def test_review_lists_both_records_of_a_decision_by_short_ids(own_shop: Path) -> None:
    one, other = _id(own_shop, "--text", "fair"), _id(own_shop, "--venue", "Lantern Dock")
    _ran(own_shop, "rule", "same sale", one, other)
    assert f"same sale {one} {other}" in _shown(own_shop, "review")


def test_review_says_that_the_row_of_a_decision_is_gone(own_shop: Path) -> None:
    _ran(own_shop, "rule", "hold", _id(own_shop, "--venue", "Lantern Dock"))
    with open_ledger(own_shop / "pairband.duckdb") as ledger:
        ledger.connection.execute("DELETE FROM staged_rows WHERE stock_ref = 'TP-1'").fetchall()
    assert "hold its row is gone" in _shown(own_shop, "review")
