"""A file that changed leaves the ledger as if it had been the only one there ever was."""

import tempfile
from pathlib import Path

import polars as pl
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from pipeline.config import Market, load_market
from pipeline.ingest.replacement import Wish
from pipeline.ingest.run import ingest_files
from pipeline.ledger import open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import AS_OF, LOADED_AT, write_lantern
from tests.property.test_ingest import LANTERN_ROWS

MARKET: Market = load_market(Path(__file__).parents[1] / "market.toml")
SLOW = settings(
    max_examples=6,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
)
OF_RUNS = {"runs", "run_files", "replaced_files", "schema_version"}
NUMBERS_OF_ROWS = ("row_id", "run_id")


def _tables(versions: list[list[str]]) -> dict[str, list[str]]:
    """Return what every table holds, but for the account of runs, once the versions were read one after another."""
    with tempfile.TemporaryDirectory() as name, open_ledger(Path(name) / "l.duckdb", create=True) as ledger:
        for rows in versions:
            export = write_lantern(Path(name), *rows)
            wish = Wish(settle=lambda doubt: "replace")
            ingest_files(ledger, MARKET, [export], wish=wish, as_of=AS_OF, loaded_at=LOADED_AT)
        assert run_checks(ledger) == ()
        tables = [row[0] for row in ledger.connection.execute("SHOW TABLES").fetchall()]
        return {
            table: _held(pl.DataFrame(ledger.connection.sql(f"FROM {table}")))
            for table in tables
            if table not in OF_RUNS
        }


def _held(frame: pl.DataFrame) -> list[str]:
    return sorted(map(repr, frame.drop(NUMBERS_OF_ROWS, strict=False).rows()))


@SLOW
@given(rows=st.lists(LANTERN_ROWS, min_size=2, max_size=8), other=LANTERN_ROWS, at=st.integers(0, 7))
def test_a_file_changed_in_one_row_gives_the_ledger_of_the_changed_file_alone(
    rows: list[str], other: str, at: int
) -> None:
    changed = [other if place == at % len(rows) else row for place, row in enumerate(rows)]
    assert _tables([rows, changed]) == _tables([changed])
