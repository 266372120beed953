"""Restoring at an earlier day: what the records did not know then does not count."""

from datetime import date
from pathlib import Path
from shutil import copy

import pytest

from pipeline.answers.restoration.run import restore_stock
from pipeline.shipped import shipped
from pipeline.workspace import Workspace
from tests.demo_ledger import demo_ledger
from tests.kept import keep_fit
from tests.restorations import demo_market_fitted


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the demo's ledger with a fit in it."""
    path = tmp_path_factory.mktemp("restore") / "pairband.duckdb"
    copy(demo_ledger()[0], path)
    keep_fit(path, demo_market_fitted())
    return path


@pytest.mark.parametrize(("day", "known"), [(date(2017, 10, 1), False), (date(2026, 10, 1), True)])
def test_only_pairs_sold_again_by_the_day_tell_of_restoring(ledger: Path, day: date, known: bool) -> None:
    report = restore_stock(Workspace(ledger, shipped("sample_data") / "market.toml"), None, as_of=day)

    assert (report.evidence.untouched > 0 or bool(report.left_out)) is known
