"""The ledger's file: opened, migrated, kept whole, and its troubles told."""

import subprocess
import sys
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline.errors import LedgerError
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.migrations import known_migrations


def _price_flag(record_id: str) -> pl.DataFrame:
    return pl.DataFrame({"record_id": [record_id], "flag": ["rate is old"]})


def _flag_count(path: Path) -> int:
    with open_ledger(path, read_only=True) as ledger:
        return len(ledger.connection.sql("SELECT * FROM price_flags").fetchall())


@pytest.fixture
def path(tmp_path: Path) -> Path:
    with open_ledger(tmp_path / "ledger.duckdb", create=True):
        pass
    return tmp_path / "ledger.duckdb"


def test_a_new_ledger_is_of_the_newest_version(path: Path) -> None:
    with open_ledger(path) as ledger:
        assert ledger.read("schema/version").item() == known_migrations()[-1][0]


def test_a_ledger_that_is_not_there_is_not_made_by_reading(tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="there is no ledger"):
        open_ledger(tmp_path / "none.duckdb", read_only=True)


def test_a_ledger_in_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="there is no folder"):
        open_ledger(tmp_path / "nowhere" / "ledger.duckdb", create=True)


def test_opening_for_reading_leaves_every_byte_as_it_was(path: Path) -> None:
    before = path.read_bytes()
    with open_ledger(path, read_only=True) as ledger:
        ledger.read("staging/row_counts")
    assert path.read_bytes() == before


def test_writing_to_a_ledger_opened_for_reading_is_an_error(path: Path) -> None:
    with open_ledger(path, read_only=True) as ledger, pytest.raises(LedgerError, match="read-only"):
        ledger.write("marts/price_flags", _price_flag("a"))


def test_a_transaction_that_fails_leaves_nothing(path: Path) -> None:
    def fail_halfway(ledger: Ledger) -> None:
        with ledger.transaction():
            ledger.write("marts/price_flags", _price_flag("a"))
            raise ValueError("halfway")

    with open_ledger(path) as ledger, pytest.raises(ValueError, match="halfway"):
        fail_halfway(ledger)
    assert _flag_count(path) == 0


def test_a_transaction_that_ends_well_is_kept(path: Path) -> None:
    with open_ledger(path) as ledger, ledger.transaction():
        ledger.write("marts/price_flags", _price_flag("a"))
    assert _flag_count(path) == 1


def test_a_process_that_dies_halfway_leaves_the_ledger_as_it_was(path: Path) -> None:
    program = (
        "import os, sys; from pathlib import Path; import polars as pl; from pipeline.ledger import open_ledger\n"
        "ledger = open_ledger(Path(sys.argv[1])); ledger.connection.begin()\n"
        "ledger.write('marts/price_flags', pl.DataFrame({'record_id': ['a'], 'flag': ['rate is old']}))\n"
        "os._exit(9)"
    )
    assert subprocess.run([sys.executable, "-c", program, str(path)], check=False).returncode == 9
    assert _flag_count(path) == 0


def test_a_file_of_other_content_is_not_a_ledger(tmp_path: Path) -> None:
    path = tmp_path / "letter.duckdb"
    path.write_text("Dear Sir or Madam, " * 1000)
    with pytest.raises(LedgerError, match="is not a ledger"):
        open_ledger(path)


def test_an_empty_file_is_not_a_ledger(tmp_path: Path) -> None:
    path = tmp_path / "empty.duckdb"
    path.touch()
    with pytest.raises(LedgerError, match="is empty"):
        open_ledger(path)


def test_a_truncated_ledger_is_said_to_be_damaged(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:6000])
    with pytest.raises(LedgerError, match="damaged"):
        open_ledger(path)


def test_a_database_of_something_else_is_no_ledger(tmp_path: Path) -> None:
    path = tmp_path / "other.duckdb"
    with duckdb.connect(str(path)) as engine:
        engine.execute("CREATE TABLE recipes (name VARCHAR)").fetchall()
    with pytest.raises(LedgerError, match="a DuckDB file but no ledger"):
        open_ledger(path)


def test_a_ledger_of_a_newer_version_is_refused(path: Path) -> None:
    with open_ledger(path) as ledger:
        ledger.run("schema/note_version", version=999)
    with pytest.raises(LedgerError, match="newer pairband"):
        open_ledger(path)


def test_a_ledger_held_by_another_process_is_said_to_be_held(path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from pipeline.ledger import open_ledger\n"
        "ledger = open_ledger(Path(sys.argv[1])); print('open', flush=True); sys.stdin.read()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", program, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "open\n"
        with pytest.raises(LedgerError, match="held by another process"):
            open_ledger(path)
    finally:
        holder.communicate()


def test_sql_in_a_value_stays_a_value(path: Path) -> None:
    with open_ledger(path) as ledger:
        ledger.write("marts/price_flags", _price_flag("'; DROP TABLE price_flags; --"))
    assert _flag_count(path) == 1


@pytest.mark.parametrize(
    "reach",
    [
        "SELECT * FROM read_text('/etc/passwd')",
        "SELECT * FROM read_csv('/etc/passwd')",
        "SELECT * FROM '/etc/passwd.csv'",
        "SELECT * FROM glob('/etc/*')",
        "COPY (SELECT 1) TO '/tmp/pairband-reached.csv'",
        "COPY price_flags FROM '/etc/passwd'",
        "ATTACH '/tmp/pairband-reached.duckdb'",
        "EXPORT DATABASE '/tmp/pairband-reached'",
        "INSTALL httpfs",
        "LOAD httpfs",
        "SELECT getenv('HOME')",
    ],
)
def test_the_ledger_reaches_no_file_of_the_machine(path: Path, reach: str) -> None:
    with (
        open_ledger(path) as ledger,
        pytest.raises(duckdb.Error, match=r"disabled|not supported|does not exist|not allowed"),
    ):
        ledger.connection.sql(reach).fetchall()


@pytest.mark.parametrize(
    "name", ["enable_external_access", "python_enable_replacements", "allowed_directories"]
)
def test_no_statement_opens_the_ledger_to_the_machine_again(path: Path, name: str) -> None:
    with open_ledger(path) as ledger, pytest.raises(duckdb.Error, match=r"[Cc]annot|locked"):
        ledger.connection.execute(f"SET {name} = true").fetchall()


def test_a_frame_of_this_program_is_no_table_of_the_ledger(path: Path) -> None:
    rates = pl.DataFrame({"rate": [1]})
    with open_ledger(path) as ledger, pytest.raises(duckdb.CatalogException, match="rates does not exist"):
        ledger.connection.sql("FROM rates").fetchall()
    assert rates.height == 1
