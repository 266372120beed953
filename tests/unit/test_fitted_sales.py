"""Each fit keeps the sales that it was made of, so that it can be compared with a later one."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.answers.corrections.run import correct_record, remove_records
from pipeline.answers.fit.run import fit_ledger
from pipeline.ledger import open_ledger
from pipeline.schema import ALL_FACTORS
from tests.shops import NOW, make_shop

LATER = datetime(2020, 1, 31, tzinfo=UTC)
SPANS = "SELECT first_fit, until_fit, count(*) FROM fitted_sales GROUP BY ALL ORDER BY ALL"


@pytest.fixture(scope="module")
def fitted_three_times(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a shop whose market was fitted, again without a change, and again after a correction and a removal."""
    folder = make_shop(tmp_path_factory.mktemp("fitted"))
    fit_ledger(folder / "pairband.duckdb", folder / "market.toml", fitted_at=LATER)
    places = folder / "pairband.duckdb", folder / "market.toml"
    with open_ledger(places[0], read_only=True) as ledger:
        first, second, *_ = ledger.connection.sql(
            "SELECT record_id FROM fitted_sales ORDER BY ALL"
        ).fetchall()
    correct_record(*places, str(first[0]), ["price=40"], reason="typo", decided_at=LATER)
    remove_records(*places, [str(second[0])], reason="a replica", decided_at=LATER)
    fit_ledger(*places, fitted_at=LATER)
    return folder


def _asked(folder: Path, query: str) -> list[tuple[object, ...]]:
    with open_ledger(folder / "pairband.duckdb", read_only=True) as ledger:
        return ledger.connection.sql(query).fetchall()


def test_a_sale_that_does_not_change_stands_once(fitted_three_times: Path) -> None:
    [(_, _, same), *changed] = sorted(_asked(fitted_three_times, SPANS), key=lambda row: -int(str(row[2])))

    assert int(str(same)) > 100
    assert changed == [(1, 3, 2), (3, None, 1)]


def test_a_fit_that_is_made_again_is_noted_with_its_own_day(fitted_three_times: Path) -> None:
    made = _asked(fitted_three_times, "SELECT fit_number, fitted_at FROM fits_made ORDER BY fit_number")

    assert made == [(number, at.replace(tzinfo=None)) for number, at in ((1, NOW), (2, LATER), (3, LATER))]


def test_a_fit_is_noted_with_the_decisions_before_it(fitted_three_times: Path) -> None:
    made = _asked(fitted_three_times, "SELECT ruling_number > 0 FROM fits_made ORDER BY fit_number")

    assert made == [(False,), (False,), (True,)]


def test_a_fitted_sale_has_every_factor_that_a_term_may_read(fitted_three_times: Path) -> None:
    described = {(row[0], row[1]) for row in _asked(fitted_three_times, "DESCRIBE fitted_sales")}

    assert {(factor.name, factor.sql_type) for factor in ALL_FACTORS} <= described
