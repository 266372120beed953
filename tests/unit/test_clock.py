"""A clock that is set back, and days that come: what was last stays last, what waited comes in."""

import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import click
import polars as pl
import pytest

from pipeline import clock
from pipeline.answers.ingest.run import ingest_exports
from pipeline.answers.market_view.command import view
from pipeline.config import Market
from pipeline.ingest.put_right import DECISION_SCHEMA, keep_decisions
from pipeline.ingest.review import Decision, kept_decisions
from pipeline.ingest.run import IngestRun, ingest_files
from pipeline.ingest.same import derive_sales
from pipeline.ledger import Ledger, open_ledger
from tests.exports import AS_OF, LOADED_AT, write_holm
from tests.kept import sales_of

BEFORE = LOADED_AT - timedelta(days=3650)
TO_COME = "1;Gannet Hi UK 9;04.07.2026;600,00;zugeschlagen;43;"
WRONG_DAY = "2;Gannet Hi UK 9;31.02.2027;600,00;zugeschlagen;43;"


def _read_on(ledger: Ledger, market: Market, path: Path, day: date) -> IngestRun:
    now = datetime(day.year, day.month, day.day)
    return ingest_files(ledger, market, [path], as_of=day, loaded_at=now)


def _keep_fit(ledger: Ledger, fit_id: str, fitted_at: datetime) -> None:
    ledger.run(
        "fits/store_fit",
        fit_id=fit_id,
        fitted_at=fitted_at,
        as_of=AS_OF,
        market_digest="",
        records_digest="",
        document="",
        arrays=b"",
    )


def _keep_ruling(ledger: Ledger, ruling: Decision, ruled_at: datetime) -> None:
    """Keep a ruling as earlier versions did, which did not refuse a contradiction."""
    one = {"kind": ruling.kind, "record_id": ruling.record_id, "ruled_at": ruled_at, "step": 0}
    keep_decisions(ledger, pl.DataFrame([one], schema_overrides={"ruled_at": DECISION_SCHEMA["ruled_at"]}))
    with ledger.transaction():
        derive_sales(ledger)


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    return open_ledger(tmp_path / "ledger.duckdb", create=True)


def test_the_fit_kept_last_is_the_latest_whatever_the_clock_said(ledger: Ledger) -> None:
    _keep_fit(ledger, "first", LOADED_AT)
    _keep_fit(ledger, "second", BEFORE)
    assert ledger.read("marts/latest_fit")["fit_id"].to_list() == ["second"]


def test_a_fit_that_is_kept_again_is_the_latest_again(ledger: Ledger) -> None:
    for fit_id in ("first", "second", "first"):
        _keep_fit(ledger, fit_id, LOADED_AT)
    assert ledger.read("marts/latest_fit")["fit_id"].to_list() == ["first"]


def test_the_ruling_kept_last_counts_whatever_the_clock_said(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _read_on(ledger, market, write_holm(tmp_path, TO_COME), date(2026, 8, 1))
    [record_id] = sales_of(ledger)["record_id"].to_list()
    _keep_ruling(ledger, Decision("hold", record_id), LOADED_AT)
    _keep_ruling(ledger, Decision("accept", record_id), BEFORE)
    assert kept_decisions(ledger)["kind"].to_list() == ["hold", "accept"]
    assert sales_of(ledger)["held_out"].to_list() == [False]


def test_a_sale_that_was_still_to_come_comes_in_once_its_day_is_there(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_holm(tmp_path, TO_COME)
    read = [_read_on(ledger, market, export, date(2026, month, 4)).files[0] for month in (6, 7)]
    assert [(file.recorded, file.quarantined) for file in read] == [(0, 1), (1, 0)]


def test_a_sale_that_is_still_to_come_is_not_read_again_before_its_day(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_holm(tmp_path, TO_COME)
    read = [_read_on(ledger, market, export, date(2026, month, 3)).files[0] for month in (6, 7)]
    assert [file.unchanged for file in read] == [False, True]


def test_a_day_that_there_is_not_does_not_wait_for_itself(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_holm(tmp_path, WRONG_DAY)
    read = [_read_on(ledger, market, export, date(year, 6, 3)).files[0] for year in (2026, 2030)]
    assert [file.unchanged for file in read] == [False, True]


def test_runs_are_numbered_in_their_order_whatever_the_clock_said(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = [TO_COME.replace("2026", "2021"), TO_COME.replace("2026", "2022")]
    for day, row in zip((date(2026, 8, 1), date(2024, 8, 1)), rows, strict=True):
        _read_on(ledger, market, write_holm(tmp_path, row, name=f"holm_{day.year}.csv"), day)
    runs = ledger.connection.sql("SELECT run_id, year(loaded_at) FROM runs ORDER BY run_id").fetchall()
    assert runs == [(1, 2026), (2, 2024)]


EVENING = datetime(2026, 7, 3, 11, tzinfo=UTC)
"""A moment at which it is the 3rd of July in UTC and the 4th where the clock is fourteen hours ahead."""


@pytest.fixture
def far_east(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Put the machine into a zone fourteen hours ahead of UTC, at EVENING."""
    monkeypatch.setenv("TZ", "XXX-14")
    monkeypatch.setattr("pipeline.clock.now", lambda: EVENING)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("far_east")
def test_today_is_the_owners_own_day() -> None:
    assert clock.today() == date(2026, 7, 4)


@pytest.mark.usefixtures("far_east")
def test_a_valuation_without_a_day_is_of_the_owners_own_day() -> None:
    with click.Context(view) as context:
        parameter = next(one for one in view.params if one.name == "as_of")
        assert parameter.process_value(context, None) == date(2026, 7, 4)


@pytest.mark.usefixtures("far_east")
def test_a_sale_of_the_owners_today_is_ingested_today(tmp_path: Path) -> None:
    market_file = Path(__file__).parents[1] / "market.toml"
    run = ingest_exports(
        tmp_path / "ledger.duckdb",
        market_file,
        [write_holm(tmp_path, TO_COME)],
        map_name=None,
        loaded_at=clock.now(),
    )
    assert (run.files[0].recorded, run.files[0].quarantined) == (1, 0)


@pytest.mark.usefixtures("far_east")
def test_what_is_stored_of_the_moment_is_utc(tmp_path: Path) -> None:
    market_file, path = Path(__file__).parents[1] / "market.toml", tmp_path / "ledger.duckdb"
    export = write_holm(tmp_path, TO_COME)
    ingest_exports(path, market_file, [export], map_name=None, loaded_at=clock.now())
    with open_ledger(path, read_only=True) as kept:
        stored = kept.connection.sql("SELECT loaded_at, as_of FROM runs").fetchall()
    assert stored == [(EVENING.replace(tzinfo=None), date(2026, 7, 4))]


@pytest.mark.parametrize("moment", [datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 12, 31, 23, tzinfo=UTC)])
@pytest.mark.parametrize("zone", ["XXX-14", "XXX+12"])
def test_the_ends_of_the_calendar_have_a_day_in_any_zone(
    moment: datetime, zone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        assert abs(clock.day_of(moment) - moment.date()) <= timedelta(days=1)
    finally:
        monkeypatch.undo()
        time.tzset()
