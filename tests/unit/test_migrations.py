"""Every version of the ledger that there has been comes to the present one with all that it held."""

import hashlib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.config import Market
from pipeline.errors import LedgerError
from pipeline.ledger import open_ledger
from pipeline.ledger.checks import run_checks
from pipeline.ledger.copies import bring_back, make_copy
from pipeline.ledger.migrations import known_migrations
from pipeline.shipped import shipped, statement
from tests.demo_ledger import demo_ledger
from tests.exports import ingest, write_holm

NOW = datetime(2026, 11, 25, tzinfo=UTC)
APPLIED = {
    1: "feba6a03dcbc5f5a",
    2: "275e6eb78fc0e41c",
    3: "2ea888da88dfa998",
    4: "1b2c4052c78f9817",
    5: "668aa751024fbf6b",
    6: "c528b90a6ddeb65c",
    7: "e1b74c9196a15f1e",
    8: "06f7cc99fa942d77",
    9: "a0797d9ef70c0473",
    10: "e8859dffa923bf2d",
    11: "a150fcd2bef6bc48",
}
"""The digests of the migrations that ledgers have had: such a file is never changed, a new one is added."""

VIEWS = {
    3: "eacaa3438ca7653c",
    4: "01b50e291534fa12",
    5: "47dca134eec2373f",
    6: "36092e637f5e3784",
    7: "038fa2c6c4c91488",
    10: "1fd1dc46f9c6a218",
}
"""The migrations since which the views have changed, with the digest of their template then."""

EARLIER = [number for number, _ in known_migrations()][:-1]
HELD = (
    "INSERT INTO fits VALUES ('new', '2026-02-01', '2026-01-31', 'm', 'r', '{}', 'x'), "
    "('old', '2026-01-01', '2025-12-31', 'm', 'r', '{}', 'x')",
    "INSERT INTO rulings VALUES ('b', 'hold', '1', NULL, NULL, NULL, '', '2026-02-01'), "
    "('a', 'accept', '1', NULL, NULL, NULL, '', '2026-01-01')",
)
"""Fits and rulings as version 1 holds them."""

TABLES_OF_VERSION_1 = ("source_files", "staged_rows", "settled_rows", "settled_sales", "pair_histories")
TOLD = (
    "SELECT * FROM sales ORDER BY record_id",
    "SELECT row_id, content_key(staged_rows) AS content FROM staged_rows ORDER BY row_id",
    "SELECT * FROM record_sources ORDER BY ALL",
)
"""What a ledger tells of its sales, rows and sources, whatever its version."""


def _ledger_of_version(path: Path, version: int) -> Path:
    """Write a ledger as the pairband of that version wrote it, with two fits and two rulings in it."""
    with duckdb.connect(str(path)) as engine:
        for number, name in known_migrations()[:version]:
            engine.execute(statement(name)).fetchall()
            engine.execute(statement("schema/note_version"), {"version": number}).fetchall()
            for held in HELD if number == 1 else ():
                engine.execute(held).fetchall()
    return path


@pytest.mark.parametrize(("number", "name"), known_migrations())
def test_a_migration_that_ledgers_have_had_is_never_changed(number: int, name: str) -> None:
    assert hashlib.sha256(statement(name).encode()).hexdigest()[:16] == APPLIED[number]


def test_changed_views_come_with_a_new_migration_which_makes_them_in_ledgers_that_exist() -> None:
    template = (shipped("sql") / "schema" / "views.sql").read_bytes()
    assert hashlib.sha256(template).hexdigest()[:16] == VIEWS[max(VIEWS)]


def test_migrations_are_numbered_without_a_gap() -> None:
    assert [number for number, _ in known_migrations()] == list(range(1, len(known_migrations()) + 1))


@pytest.mark.parametrize("version", EARLIER)
def test_an_earlier_ledger_comes_to_the_present_version_and_takes_exports(
    version: int, market: Market, tmp_path: Path
) -> None:
    path = _ledger_of_version(tmp_path / "ledger.duckdb", version)
    with open_ledger(path) as ledger:
        ingest(ledger, market, [write_holm(tmp_path, "1;Gannet Hi;04.03.2021;100;zugeschlagen;43;")])
        assert ledger.read("schema/version").item() == known_migrations()[-1][0]
        assert run_checks(ledger) == ()


@pytest.mark.parametrize("version", EARLIER)
def test_an_earlier_ledger_has_the_tables_of_a_new_one_once_it_is_opened(
    version: int, tmp_path: Path
) -> None:
    def described(path: Path) -> list[tuple[object, ...]]:
        with open_ledger(path, create=True) as ledger:
            return ledger.connection.sql(
                "SELECT table_name, column_name, data_type FROM information_schema.columns ORDER BY ALL"
            ).fetchall()

    earlier = _ledger_of_version(tmp_path / "earlier.duckdb", version)
    assert described(earlier) == described(tmp_path / "new.duckdb")


def test_the_latest_fit_and_ruling_of_version_1_stay_the_latest(tmp_path: Path) -> None:
    with open_ledger(_ledger_of_version(tmp_path / "ledger.duckdb", 1)) as ledger:
        assert ledger.read("marts/latest_fit")["fit_id"].to_list() == ["new"]
        assert ledger.read("marts/ruling_list")["ruling_id"].to_list() == ["a", "b"]


@pytest.mark.parametrize("version", EARLIER)
def test_an_earlier_ledger_keeps_every_sale_and_what_it_is_known_by(version: int, tmp_path: Path) -> None:
    def told(engine: duckdb.DuckDBPyConnection) -> list[pl.DataFrame]:
        return [pl.DataFrame(engine.sql(query)) for query in TOLD]

    path = _ledger_of_version(tmp_path / "ledger.duckdb", version)
    with duckdb.connect(str(path)) as engine:
        engine.execute("ATTACH $demo AS demo (READ_ONLY)", {"demo": str(demo_ledger()[0])}).fetchall()
        for table in TABLES_OF_VERSION_1:
            columns = ", ".join(row[0] for row in engine.execute(f"DESCRIBE {table}").fetchall())
            engine.execute(f"INSERT INTO {table} BY NAME SELECT {columns} FROM demo.{table}").fetchall()
        before = told(engine)
    with open_ledger(path) as ledger:
        for old, new in zip(before, told(ledger.connection), strict=True):
            assert_frame_equal(new.select(old.columns), old)


@pytest.mark.parametrize("version", EARLIER)
def test_an_earlier_ledger_is_not_changed_by_reading(version: int, tmp_path: Path) -> None:
    path = _ledger_of_version(tmp_path / "ledger.duckdb", version)
    before = path.read_bytes()
    with pytest.raises(LedgerError, match="`pairband ingest` brings it up to date"):
        open_ledger(path, read_only=True)
    assert path.read_bytes() == before


@pytest.mark.parametrize("version", EARLIER)
def test_a_copy_of_an_earlier_ledger_is_of_its_version_and_comes_back_as_the_present_one(
    version: int, tmp_path: Path
) -> None:
    path = _ledger_of_version(tmp_path / "ledger.duckdb", version)
    copy, _ = make_copy(path, tmp_path / "copy.duckdb", made_at=NOW)
    before = copy.path.read_bytes()
    bring_back(copy.path, path, now=NOW)
    assert before == copy.path.read_bytes()
    with open_ledger(path, read_only=True) as ledger:
        assert ledger.is_newest


def test_a_migration_that_fails_leaves_the_ledger_at_its_version(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _ledger_of_version(tmp_path / "ledger.duckdb", 1)
    whole: Callable[[str], str] = statement

    def breaking(name: str) -> str:
        return whole(name) + ("; SELECT no_such_column FROM fits" if "0002" in name else "")

    monkeypatch.setattr("pipeline.ledger.migrations.statement", breaking)
    with pytest.raises(LedgerError, match="no_such_column"):
        open_ledger(path)
    with duckdb.connect(str(path), read_only=True) as engine:
        assert engine.sql("SELECT max(version) FROM schema_version").fetchall() == [(1,)]
        assert len(engine.sql("DESCRIBE fits").fetchall()) == 7
