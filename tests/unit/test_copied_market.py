"""A copy of the ledger carries the market file that belongs to it, and no other file is taken for it."""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.answers.care.copies import Return, back_up, recover
from pipeline.answers.care.tables import backup_sheet, return_sheet
from pipeline.config import Market
from pipeline.errors import LedgerError
from pipeline.ledger import open_ledger
from pipeline.terminal.sheet import show_sheet
from tests.exports import ingest, write_holm

DAY = datetime(2026, 11, 3, 18, tzinfo=UTC)
LATER = datetime(2026, 11, 25, 9, tzinfo=UTC)
THEN, NOW = "# the market file of that day\n", "# edited since\n"


@pytest.fixture(scope="module")
def read_once(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with an export of one sale, a ledger that holds it, and a market file."""
    folder = tmp_path_factory.mktemp("read")
    with open_ledger(folder / "pairband.duckdb", create=True) as opened:
        ingest(opened, market, [write_holm(folder, "1;Gannet Hi;04.03.2021;600,00;zugeschlagen;43;")])
    (folder / "market.toml").write_text(THEN)
    return folder


@pytest.fixture
def ledger(read_once: Path, tmp_path: Path) -> Path:
    """Return a copy of that ledger, for a test to change."""
    return shutil.copytree(read_once, tmp_path, dirs_exist_ok=True) / "pairband.duckdb"


def _market(ledger: Path) -> Path:
    return ledger.with_name("market.toml")


def _copied(ledger: Path) -> Path:
    return back_up(ledger, _market(ledger), ledger.with_name("stick.duckdb"), made_at=DAY).copy.path


def _returned(copy: Path, ledger: Path) -> Return:
    return recover(copy, ledger, _market(ledger), now=LATER)


def test_the_market_file_of_a_copy_bears_the_name_of_the_copy(ledger: Path) -> None:
    made = back_up(ledger, _market(ledger), ledger.with_name("stick.duckdb"), made_at=DAY)
    assert made.market == ledger.with_name("stick.duckdb.market.toml")
    assert made.market.read_text() == THEN


def test_a_file_that_has_the_market_files_name_stops_the_copy(ledger: Path) -> None:
    ledger.with_name("stick.duckdb.market.toml").write_text("someone's")
    with pytest.raises(
        LedgerError, match=r"stick\.duckdb\.market\.toml is there already; nothing was copied"
    ):
        _copied(ledger)
    assert not ledger.with_name("stick.duckdb").exists()


def test_a_copy_named_like_the_market_file_still_carries_it(ledger: Path) -> None:
    made = back_up(ledger, _market(ledger), ledger.with_name("market.duckdb"), made_at=DAY)
    assert made.market is not None
    assert made.market.read_text() == THEN


def test_a_copy_without_a_market_file_says_so(ledger: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _market(ledger).unlink()
    show_sheet(backup_sheet(back_up(ledger, _market(ledger), ledger.with_name("stick.duckdb"), made_at=DAY)))
    assert f"No market file was copied: there is none at {_market(ledger)}" in " ".join(
        capsys.readouterr().out.split()
    )


def test_a_market_file_that_is_a_folder_is_reported_before_anything_is_copied(ledger: Path) -> None:
    _market(ledger).unlink()
    _market(ledger).mkdir()
    with pytest.raises(LedgerError, match=r"the market file .* is not a plain file: it is a folder"):
        _copied(ledger)
    assert not ledger.with_name("stick.duckdb").exists()


def test_the_market_file_comes_back_and_the_edited_one_stays_beside_it(ledger: Path) -> None:
    copy = _copied(ledger)
    _market(ledger).write_text(NOW)
    told = _returned(copy, ledger).market
    assert told.replaced == ledger.with_name("market.replaced-20261125-090000.toml")
    assert (_market(ledger).read_text(), told.replaced.read_text()) == (THEN, NOW)


def test_a_market_file_that_is_lost_comes_back(ledger: Path) -> None:
    copy = _copied(ledger)
    _market(ledger).unlink()
    assert _returned(copy, ledger).market.replaced is None
    assert _market(ledger).read_text() == THEN


def test_a_market_file_that_is_the_same_is_left(ledger: Path) -> None:
    assert _returned(_copied(ledger), ledger).market.state == "as it was"
    assert list(ledger.parent.glob("market.replaced*")) == []


@pytest.mark.parametrize("name", ["stick.toml", "market.toml"])
def test_an_unrelated_market_file_is_not_taken_for_the_copys(ledger: Path, name: str) -> None:
    _market(ledger).unlink()
    copy = _copied(ledger)
    ledger.with_name(name).write_text("someone's")
    assert _returned(copy, ledger).market.state == "none with the copy"
    assert ledger.with_name(name).read_text() == "someone's"


def test_a_market_file_that_was_changed_beside_its_copy_is_left_there(ledger: Path) -> None:
    copy = _copied(ledger)
    ledger.with_name("stick.duckdb.market.toml").write_text("someone's")
    _market(ledger).write_text(NOW)
    assert _returned(copy, ledger).market.state == "changed since"
    assert _market(ledger).read_text() == NOW


def test_a_copy_taken_to_another_machine_brings_its_market_file(ledger: Path, tmp_path: Path) -> None:
    copy = _copied(ledger)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    for path in (copy, copy.with_name(copy.name + ".market.toml")):
        (elsewhere / path.name).write_bytes(path.read_bytes())
    _returned(elsewhere / copy.name, elsewhere / "pairband.duckdb")
    assert (elsewhere / "market.toml").read_text() == THEN


def test_what_became_of_the_market_file_is_said(ledger: Path, capsys: pytest.CaptureFixture[str]) -> None:
    copy = _copied(ledger)
    _market(ledger).write_text(NOW)
    show_sheet(return_sheet(_returned(copy, ledger)))
    said = " ".join(capsys.readouterr().out.split())
    assert f"{_market(ledger)} is again the copy's market file." in said
    assert "market.replaced-20261125-090000.toml" in said


def test_a_copy_without_a_market_file_is_reported_when_it_comes_back(
    ledger: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _market(ledger).unlink()
    show_sheet(return_sheet(_returned(_copied(ledger), ledger)))
    assert "The copy has no market file with it" in " ".join(capsys.readouterr().out.split())
