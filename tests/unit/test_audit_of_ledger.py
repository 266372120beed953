"""The audit of a ledger: what the latest fit found of past sales is judged, and nothing is fitted twice."""

import shutil
from dataclasses import asdict, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from pipeline.answers.audit import answer
from pipeline.answers.audit.answer import audit
from pipeline.answers.audit.run import audit_ledger
from pipeline.answers.corrections.run import remove_records
from pipeline.answers.fit.run import fit_ledger
from pipeline.ledger import open_ledger
from pipeline.market.fitted_market import from_stored
from pipeline.workspace import Workspace
from tests.kept import keep_fit
from tests.shops import NOW, make_shop

LATER = datetime(2020, 1, 31, tzinfo=UTC)


class FittedAgain(Exception):
    """The audit has fitted the market."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_shop(tmp_path_factory.mktemp("audited"))


@pytest.fixture
def shop(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "shop"))


@pytest.fixture
def no_fit(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise FittedAgain

    monkeypatch.setattr(answer, "fit_market", refuse)


def _paths(shop: Path) -> tuple[Path, Path]:
    return shop / "pairband.duckdb", shop / "market.toml"


def test_what_the_fit_found_gives_the_audit_of_a_new_fit(made: Path) -> None:
    with Workspace.open(made) as workspace:
        kept = audit_ledger(workspace, as_of=NOW.date())
        again = audit(workspace.sales, workspace.market, as_of=NOW.date())

    assert kept.priced > 50
    assert kept.calibrated
    assert _numbers(kept) == pytest.approx(_numbers(again), rel=1e-5, abs=1e-7)
    assert _texts(kept) == _texts(again)


@pytest.mark.usefixtures("no_fit")
@pytest.mark.parametrize("day", [NOW.date(), date(2026, 1, 1)])
def test_the_latest_fit_is_audited_without_another(made: Path, day: date) -> None:
    with Workspace.open(made) as workspace:
        assert audit_ledger(workspace, as_of=day).as_of == day


@pytest.mark.usefixtures("no_fit")
def test_an_audit_as_of_an_earlier_day_needs_a_fit_of_its_sales(made: Path) -> None:
    with Workspace.open(made) as workspace:
        day = workspace.fitted.last_sale.replace(day=1)
        with pytest.raises(FittedAgain):
            audit_ledger(workspace, as_of=day)


@pytest.mark.usefixtures("no_fit")
def test_records_that_changed_since_the_fit_need_another(shop: Path) -> None:
    with Workspace.open(shop) as workspace:
        record = str(workspace.sales["record_id"][0])
    remove_records(*_paths(shop), [record], reason="a replica", decided_at=LATER)

    with Workspace.open(shop) as workspace, pytest.raises(FittedAgain):
        audit_ledger(workspace, as_of=LATER.date())


@pytest.mark.usefixtures("no_fit")
def test_a_market_file_that_changed_since_the_fit_needs_another(shop: Path) -> None:
    market = shop / "market.toml"
    market.write_text(
        market.read_text(encoding="utf-8") + "\n[model]\ndegrees_of_freedom = 7\n", encoding="utf-8"
    )

    with Workspace.open(shop) as workspace, pytest.raises(FittedAgain):
        audit_ledger(workspace, as_of=LATER.date())


@pytest.mark.usefixtures("no_fit")
@pytest.mark.parametrize(
    "other",
    [{"version": "0"}, {"origins": None}, {"records_digest": "files:1"}],
    ids=["of another version", "before ledgers of version 11", "of sales in files"],
)
def test_a_fit_that_is_not_of_these_sales_is_not_taken(shop: Path, other: dict[str, Any]) -> None:
    ledger, _ = _paths(shop)
    with open_ledger(ledger, read_only=True) as opened:
        stored = opened.read("marts/latest_fit").row(0, named=True)
    keep_fit(ledger, replace(from_stored(stored["document"], stored["arrays"]), **other))

    with Workspace.open(shop) as workspace, pytest.raises(FittedAgain):
        audit_ledger(workspace, as_of=LATER.date())


@pytest.mark.usefixtures("no_fit")
def test_without_a_fit_the_market_is_fitted_for_the_audit(shop: Path) -> None:
    with open_ledger(_paths(shop)[0]) as opened:
        opened.connection.execute("TRUNCATE fits").fetchall()

    with Workspace.open(shop) as workspace, pytest.raises(FittedAgain):
        audit_ledger(workspace, as_of=LATER.date())


def test_a_later_fit_takes_the_place_of_what_an_earlier_one_found(shop: Path) -> None:
    with Workspace.open(shop) as workspace:
        before = audit_ledger(workspace, as_of=LATER.date())
        last = workspace.sales.sort("sold_on")["record_id"].to_list()[-3:]
    remove_records(*_paths(shop), last, reason="a replica", decided_at=LATER)
    fit_ledger(*_paths(shop), fitted_at=LATER)

    with Workspace.open(shop) as workspace:
        after = audit_ledger(workspace, as_of=LATER.date())

    assert (before.sales - after.sales, before.priced - after.priced) == (3, 3)


def _leaves(value: object) -> list[object]:
    """Return the values in an audit, in order."""
    if isinstance(value, dict):
        return [leaf for part in value.values() for leaf in _leaves(part)]
    if isinstance(value, list | tuple):
        return [leaf for part in value for leaf in _leaves(part)]
    return [value]


def _numbers(found: answer.Audit) -> list[float]:
    return [leaf for leaf in _leaves(asdict(found)) if isinstance(leaf, int | float)]


def _texts(found: answer.Audit) -> list[object]:
    return [leaf for leaf in _leaves(asdict(found)) if not isinstance(leaf, int | float)]
