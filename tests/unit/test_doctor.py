"""The doctor says what is stale or broken, and what to do; of what is well it says nothing."""

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.answers.care import doctor
from pipeline.answers.care.doctor import Health, examine
from pipeline.answers.fit.run import fit_ledger
from pipeline.config import Market
from pipeline.errors import LedgerError
from pipeline.ledger import open_ledger
from pipeline.ledger.copies import make_copy
from pipeline.ledger.migrations import known_migrations
from tests.exports import ingest, write_holm, write_lantern

NOW = datetime(2026, 11, 3, 18, tzinfo=UTC)
LOT = "Gannet Hi;04.07.2025;600,00;zugeschlagen;43;"
MARKET_FILE = Path(__file__).parents[1] / "market.toml"


@pytest.fixture(scope="module")
def read_once(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with an export of twelve sales, and a ledger that holds them."""
    folder = tmp_path_factory.mktemp("read")
    rows = [
        f"L{n},,Gannet Hi first run,2024-01-01,2024-0{1 + n % 9}-03,,{100 + n},sold,UK 9,{5 + n % 4},original"
        for n in range(12)
    ]
    with open_ledger(folder / "pairband.duckdb", create=True) as opened:
        ingest(opened, market, [write_lantern(folder, *rows)])
    return folder


@pytest.fixture
def ledger(read_once: Path, tmp_path: Path) -> Path:
    """Return a copy of that ledger, for a test to change."""
    return shutil.copytree(read_once, tmp_path, dirs_exist_ok=True) / "pairband.duckdb"


def _told(health: Health) -> str:
    return "\n".join(problem.what for problem in health.problems)


def _examined(ledger: Path, market_file: Path = MARKET_FILE, now: datetime = NOW) -> str:
    return _told(examine(ledger, market_file, now=now))


def test_a_ledger_that_was_fitted_and_copied_is_well(ledger: Path) -> None:
    fit_ledger(ledger, MARKET_FILE, fitted_at=NOW)
    make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=NOW)
    health = examine(ledger, MARKET_FILE, now=NOW)
    assert (health.problems, health.exit_code, health.sales) == ((), 0, 12)


def test_a_fit_older_than_the_records_or_the_market_file_is_stale(ledger: Path, market: Market) -> None:
    fit_ledger(ledger, MARKET_FILE, fitted_at=NOW)
    later = write_lantern(
        ledger.parent, "M1,,Gannet Hi,2025-01-01,2025-01-09,,90,sold,UK 9,7,", name="lantern_2025.csv"
    )
    with open_ledger(ledger) as opened:
        ingest(opened, market, [later])
    changed = ledger.with_name("market.toml")
    changed.write_text(MARKET_FILE.read_text().replace("Gannet Hi", "Gannet High", 1))
    told = _examined(ledger, changed)
    assert "the records have changed since the fit" in told
    assert "the market file has changed since the fit" in told


def test_the_doctor_counts_rows_as_ingest_does(market: Market, tmp_path: Path) -> None:
    careful = market.model_copy(
        update={"words": market.words.model_copy(update={"not_a_pair": ("laces only",)})}
    )
    rows = [f"1;{LOT}", f"2;{LOT.replace('Gannet Hi', 'Laces only')}", f"3;{LOT.replace('600,00', 'sechs')}"]
    with open_ledger(tmp_path / "small.duckdb", create=True) as opened:
        [file] = ingest(opened, careful, [write_holm(tmp_path, *rows)]).files
    health = examine(tmp_path / "small.duckdb", MARKET_FILE, now=NOW)
    counted = (file.recorded, file.quarantined, file.put_aside)
    assert (health.sales, health.quarantined, health.put_aside) == counted == (1, 1, 1)


def test_a_ledger_without_fit_and_copy_wants_both(ledger: Path) -> None:
    told = _examined(ledger)
    assert "the market has not been fitted" in told
    assert "no copy of the ledger is known" in told
    assert examine(ledger, MARKET_FILE, now=NOW).exit_code == 3


def test_a_check_that_is_broken_is_told(ledger: Path) -> None:
    with open_ledger(ledger) as opened:
        opened.connection.execute("UPDATE source_files SET rows_read = 7").fetchall()
    assert "breaks the check rows_are_conserved" in _examined(ledger)


def test_a_damaged_ledger_is_an_error(ledger: Path) -> None:
    ledger.write_bytes(ledger.read_bytes()[:400_000])
    with pytest.raises(LedgerError, match="pairband recover"):
        examine(ledger, MARKET_FILE, now=NOW)


def test_a_copy_that_was_damaged_since_is_told(ledger: Path) -> None:
    copy, _ = make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=NOW)
    content = bytearray(copy.path.read_bytes())
    content[-1] ^= 1
    copy.path.write_bytes(content)
    assert "copy.duckdb is damaged, or was changed" in _examined(ledger)


def test_a_copy_is_old_once_the_records_have_changed_since(ledger: Path, market: Market) -> None:
    make_copy(ledger, ledger.with_name("copy.duckdb"), made_at=NOW)
    much_later = NOW + timedelta(days=40)
    assert "days old" not in _examined(ledger, now=much_later)
    later = write_lantern(
        ledger.parent, "M1,,Gannet Hi,2025-01-01,2025-01-09,,90,sold,UK 9,7,", name="lantern_2025.csv"
    )
    with open_ledger(ledger) as opened:
        ingest(opened, market, [later])
    assert "the newest copy is 40 days old" in _examined(ledger, now=much_later)


def test_a_clock_that_was_set_back_is_told(ledger: Path) -> None:
    told = _examined(ledger, now=datetime(2020, 1, 1, tzinfo=UTC))
    assert "last written on 2026-06-30, and this machine says that it is 2020-01-01" in told


def test_rates_that_have_ended_are_told(ledger: Path) -> None:
    assert "the exchange rates end on" in _examined(ledger, now=datetime(2031, 1, 1, tzinfo=UTC))


def test_a_disk_that_is_nearly_full_is_told(ledger: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "free_bytes", lambda path: 1_000)
    assert "the ledger's disk has 1,000 bytes left" in _examined(ledger)


def test_an_earlier_ledger_is_told_and_left_as_it_is(ledger: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = ledger.read_bytes()
    newer = [(number, "") for number in range(1, known_migrations()[-1][0] + 2)]
    monkeypatch.setattr("pipeline.ledger.migrations.known_migrations", lambda: newer)
    assert "the ledger is of an earlier version" in _examined(ledger)
    assert ledger.read_bytes() == before
