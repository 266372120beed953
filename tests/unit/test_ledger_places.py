"""A ledger is one plain file: what the engine or the system takes for something else is refused in words."""

import ctypes
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import pytest

from pipeline.answers.care.copies import back_up
from pipeline.answers.fit.run import fit_ledger
from pipeline.errors import LedgerError
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger import ledger as ledgers
from pipeline.ledger.copies import bring_back, make_copy
from pipeline.ledger.files import wal_of
from tests.processes import uncounted

DAY = datetime(2026, 11, 3, 18, tzinfo=UTC)
MARKET_FILE = Path(__file__).parents[1] / "market.toml"
NOT_A_FILE = (
    ":memory:",
    ":memory:shop",
    "",
    "http://shop/pairband.duckdb",
    "s3://shop/pairband.duckdb",
    "md:shop",
    "file:pairband.duckdb",
    "file:///tmp/pairband.duckdb",
    "sqlite:pairband.db",
    "shop?.duckdb",
)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", NOT_A_FILE)
def test_a_ledger_that_would_keep_nothing_is_refused(here: Path, name: str) -> None:
    with pytest.raises(LedgerError, match=r"not the name of a plain file|is no file, so no ledger"):
        open_ledger(Path(name), create=True)
    assert list(here.iterdir()) == []


@pytest.mark.parametrize("name", [":memory:", "md:shop"])
def test_a_copy_is_no_database_in_memory_or_elsewhere(here: Path, name: str) -> None:
    with open_ledger(here / "pairband.duckdb", create=True):
        pass
    with pytest.raises(LedgerError, match="not the name of a plain file"):
        make_copy(here / "pairband.duckdb", Path(name), made_at=DAY)


def test_a_name_that_begins_with_a_tilde_is_a_plain_file(here: Path) -> None:
    with open_ledger(Path("~shop.duckdb"), create=True):
        pass
    assert (here / "~shop.duckdb").is_file()


def test_a_ledger_reached_by_a_link_keeps_its_log_beside_the_file(here: Path) -> None:
    (here / "disk").mkdir()
    (here / "pairband.duckdb").symlink_to(here / "disk" / "real.duckdb")
    with open_ledger(here / "pairband.duckdb", create=True) as ledger:
        ledger.run("schema/note_version", version=1)
        assert wal_of(here / "disk" / "real.duckdb").exists()


@pytest.mark.parametrize(
    ("name", "told"), [("n" * 300 + ".duckdb", "File name too long"), ("\udcff.duckdb", "is not UTF-8")]
)
def test_a_name_that_no_file_can_have_is_reported(here: Path, name: str, told: str) -> None:
    with pytest.raises(LedgerError, match=told):
        open_ledger(Path(name), create=True)


@pytest.mark.parametrize(
    ("name", "told"),
    [("n" * 300 + ".duckdb", "File name too long"), ("n" * 248 + ".duckdb", "File name too long")],
)
def test_a_copy_of_a_name_that_is_too_long_is_reported(here: Path, name: str, told: str) -> None:
    with open_ledger(here / "pairband.duckdb", create=True):
        pass
    (here / "market.toml").write_text("")
    with pytest.raises(LedgerError, match=told):
        back_up(here / "pairband.duckdb", here / "market.toml", here / name, made_at=DAY)
    assert [path.name for path in here.iterdir() if path.name.startswith(("n", "."))] == []


def test_a_copy_of_the_longest_name_is_made(here: Path) -> None:
    with open_ledger(here / "pairband.duckdb", create=True):
        pass
    copy, _ = make_copy(here / "pairband.duckdb", here / ("n" * 248 + ".duckdb"), made_at=DAY)
    assert copy.path.is_file()


def test_a_copy_in_a_folder_whose_name_is_not_utf8_is_refused(here: Path) -> None:
    with open_ledger(here / "pairband.duckdb", create=True):
        pass
    folder = here / "\udcff"
    folder.mkdir()
    with pytest.raises(LedgerError, match="is not UTF-8"):
        make_copy(here / "pairband.duckdb", folder / "copy.duckdb", made_at=DAY)


@pytest.mark.parametrize("make", [os.mkfifo, lambda path: path.symlink_to("/dev/zero"), Path.mkdir])
def test_a_copy_to_bring_back_is_a_plain_file(here: Path, make: Callable[[Path], object]) -> None:
    make(here / "copy.duckdb")
    with pytest.raises(LedgerError, match="not a plain file"):
        bring_back(here / "copy.duckdb", here / "pairband.duckdb", now=DAY)


def _only_what_modes_allow() -> None:
    """Take from root what lets it enter where the modes of folders forbid it."""
    for capability in (1, 2):
        ctypes.CDLL(None).prctl(24, capability, 0, 0, 0)


@pytest.mark.skipif(sys.platform != "linux", reason="how root is kept to the modes of files is Linux's own")
@pytest.mark.parametrize(
    "words",
    [["doctor"], ["fit"], ["backup"], ["recover", "locked/copy.duckdb"], ["compact"], ["backup", "locked/x"]],
)
def test_a_folder_that_may_not_be_entered_is_reported(here: Path, words: list[str]) -> None:
    (here / "market.toml").write_bytes(MARKET_FILE.read_bytes())
    (here / "locked").mkdir()
    ledger = "locked/pairband.duckdb"
    if words[-1].startswith("locked"):
        ledger = "pairband.duckdb"
        with open_ledger(here / ledger, create=True):
            pass
    (here / "locked").chmod(0)
    try:
        said = subprocess.run(
            [sys.executable, "-c", "from pipeline.cli import main; main()", *words, "--ledger", ledger],
            env=uncounted() | {"PYTHONPATH": str(Path(__file__).parents[2])},
            preexec_fn=_only_what_modes_allow,
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        (here / "locked").chmod(0o755)
    assert (said.returncode, "Traceback" in said.stderr) == (2, False)
    assert "Permission denied" in said.stderr


FOREIGN = {
    "tables of its own": ["CREATE TABLE recipes (name VARCHAR)"],
    "a table schema_version": [
        "CREATE TABLE schema_version (version INTEGER)",
        "INSERT INTO schema_version VALUES (1)",
    ],
    "a newer schema_version": [
        "CREATE TABLE schema_version (version INTEGER)",
        "INSERT INTO schema_version VALUES (99)",
    ],
    "a schema_version of words": ["CREATE TABLE schema_version (version VARCHAR, applied DATE)"],
    "a schema_version of another kind": ["CREATE TABLE schema_version (installed DATE)"],
    "a schema_version and more": [
        "CREATE TABLE schema_version (version INTEGER)",
        "CREATE TABLE runs (distance DOUBLE)",
        "INSERT INTO schema_version VALUES (2)",
    ],
    "tables in a schema of its own": ["CREATE SCHEMA shop", "CREATE TABLE shop.recipes (name VARCHAR)"],
    "a view": ["CREATE VIEW recipes AS SELECT 1 AS name"],
}


def _foreign(path: Path, statements: list[str]) -> Path:
    with duckdb.connect(str(path)) as engine:
        for text in statements:
            engine.execute(text).fetchall()
    return path


@pytest.mark.parametrize("statements", FOREIGN.values(), ids=list(FOREIGN))
@pytest.mark.parametrize(
    "use",
    [
        lambda path: open_ledger(path),
        lambda path: open_ledger(path, create=True),
        lambda path: open_ledger(path, read_only=True),
        lambda path: open_ledger(path, read_only=True, as_it_is=True),
        lambda path: fit_ledger(path, MARKET_FILE, fitted_at=DAY),
        lambda path: make_copy(path, path.with_name("copy.duckdb"), made_at=DAY),
        lambda path: bring_back(path, path.with_name("ledger.duckdb"), now=DAY),
    ],
    ids=["write", "create", "read", "as it is", "fit", "copy", "recover"],
)
def test_a_database_of_something_else_is_refused_and_left_as_it_is(
    tmp_path: Path, use: Callable[[Path], object], statements: list[str]
) -> None:
    path = _foreign(tmp_path / "other.duckdb", statements)
    before = path.read_bytes()
    with pytest.raises(LedgerError, match="is a DuckDB file but no ledger"):
        use(path)
    assert path.read_bytes() == before


def test_a_fit_writes_no_tables_into_a_database_that_holds_nothing(tmp_path: Path) -> None:
    path = _foreign(tmp_path / "empty.duckdb", [])
    with pytest.raises(LedgerError, match="holds no ledger yet"):
        fit_ledger(path, MARKET_FILE, fitted_at=DAY)
    with duckdb.connect(str(path), read_only=True) as engine:
        assert engine.sql("SHOW TABLES").fetchall() == []


def test_a_ledger_that_was_begun_and_never_filled_is_made_by_reading_exports(tmp_path: Path) -> None:
    path = _foreign(tmp_path / "begun.duckdb", [])
    with open_ledger(path, create=True) as ledger:
        assert ledger.is_newest


LONG = "SELECT sum(hash(range)) FROM range(10_000_000_000)"


def _interrupted(path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[[Ledger], object]) -> None:
    """Write to a ledger, then run a long statement that Ctrl-C stops, all in one transaction."""
    monkeypatch.setitem(
        ledgers._SETTINGS, "threads", "1"
    )  # else the engine looks for signals now and then only
    with open_ledger(path, create=True) as ledger:
        monkeypatch.setattr(ledgers, "statement", lambda name: LONG)
        signal.setitimer(signal.ITIMER_REAL, 0.3)
        with ledger.transaction():
            ledger.connection.execute("INSERT INTO price_flags VALUES ('a', 'rate is old')").fetchall()
            run(ledger)


@pytest.mark.parametrize(
    "run", [lambda ledger: ledger.run("long"), lambda ledger: ledger.read("long")], ids=["run", "read"]
)
def test_an_interrupt_within_a_statement_stops_the_work_and_takes_it_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[[Ledger], object]
) -> None:
    before = signal.signal(signal.SIGALRM, lambda *_: signal.raise_signal(signal.SIGINT))
    try:
        with pytest.raises(KeyboardInterrupt, match=r"^$"):
            _interrupted(tmp_path / "pairband.duckdb", monkeypatch, run)
    finally:
        signal.signal(signal.SIGALRM, before)
    monkeypatch.undo()
    with open_ledger(tmp_path / "pairband.duckdb") as ledger:
        assert ledger.connection.sql("FROM price_flags").fetchall() == []
