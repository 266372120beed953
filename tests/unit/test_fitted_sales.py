"""Each fit keeps the sales that it was made of, so that it can be compared with a later one."""

import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.answers.corrections.run import correct_record, remove_records
from pipeline.answers.fit.run import FitSummary, fit_ledger
from pipeline.answers.fit.tables import fit_sheet
from pipeline.config import Market
from pipeline.errors import FitError, LedgerError
from pipeline.hedonic import doubtful
from pipeline.hedonic.database import DatabaseSource
from pipeline.ledger import open_ledger
from pipeline.schema import ALL_FACTORS
from tests.exports import ingest, write_holm
from tests.shops import NOW, make_shop

MARKET_FILE = Path(__file__).parents[1] / "market.toml"
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


def test_a_fit_takes_the_priced_sales_without_their_titles(fitted_three_times: Path) -> None:
    with open_ledger(fitted_three_times / "pairband.duckdb", read_only=True) as ledger:
        taken = ledger.read("marts/sales_to_fit")
        priced = ledger.read("marts/priced_sales", silhouette=None, most=None)

    assert_frame_equal(taken.sort("record_id"), priced.drop("title").sort("record_id"))


def test_the_sales_that_are_kept_are_those_that_the_fit_took(fitted_three_times: Path) -> None:
    with open_ledger(fitted_three_times / "pairband.duckdb", read_only=True) as ledger:
        taken = ledger.read("marts/sales_to_fit").drop("log_price")
        kept = ledger.connection.sql("FROM fitted_sales WHERE until_fit IS NULL").pl()

    assert_frame_equal(kept.select(taken.columns).sort("record_id"), taken.sort("record_id"))


def test_rows_that_are_read_in_batches_are_those_that_are_read_at_once(
    fitted_three_times: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.ledger.ledger.BATCH", 100)
    with open_ledger(fitted_three_times / "pairband.duckdb", read_only=True) as ledger:
        batches = list(ledger.batches("marts/priced_sales", silhouette=None, most=250))
        at_once = ledger.read("marts/priced_sales", silhouette=None, most=250)

    assert_frame_equal(pl.concat(batches), at_once)


@pytest.fixture(scope="module")
def listed_briefly(fitted_three_times: Path, tmp_path_factory: pytest.TempPathFactory) -> FitSummary:
    """Return what a fit says that lists at most two of the sales that it doubts."""
    folder = tmp_path_factory.mktemp("brief")
    for name in ("pairband.duckdb", "market.toml"):
        shutil.copy(fitted_three_times / name, folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(doubtful, "MOST_LISTED", 2)
        return fit_ledger(folder / "pairband.duckdb", folder / "market.toml", fitted_at=LATER)


def test_all_doubted_sales_are_counted_where_some_are_listed(listed_briefly: FitSummary) -> None:
    assert (len(listed_briefly.doubted), listed_briefly.doubted_sales > 2) == (2, True)


def test_a_doubted_sale_is_listed_as_its_record_says(
    fitted_three_times: Path, listed_briefly: FitSummary
) -> None:
    said = {(sale.record_id, sale.title, sale.sold_on, sale.price_paid) for sale in listed_briefly.doubted}
    with open_ledger(fitted_three_times / "pairband.duckdb", read_only=True) as ledger:
        priced = ledger.read("marts/priced_sales", silhouette=None, most=None)

    assert said <= set(priced.select("record_id", "title", "sold_on", "price_paid").iter_rows())


def test_the_fit_says_which_of_many_doubted_sales_are_listed(listed_briefly: FitSummary) -> None:
    title = fit_sheet(replace(listed_briefly, doubted_sales=30_000)).tables[0].title

    assert title == (
        "30,000 sales with a price that is hard to believe; they count for less than half. The 2 that would move the "
        "fit most if they counted in full:"
    )


def test_a_fit_for_which_memory_ran_out_says_so(
    fitted_three_times: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def run_out(*_: object) -> None:
        raise duckdb.OutOfMemoryException("could not allocate block")

    monkeypatch.setattr(DatabaseSource, "code", run_out)
    places = fitted_three_times / "pairband.duckdb", fitted_three_times / "market.toml"
    with pytest.raises(LedgerError, match="needed more memory than this machine gives"):
        fit_ledger(*places, fitted_at=LATER)


def test_a_fit_of_sales_without_a_silhouette_says_what_they_lack(market: Market, tmp_path: Path) -> None:
    ledger = tmp_path / "ledger.duckdb"
    with open_ledger(ledger, create=True) as opened:
        ingest(opened, market, [write_holm(tmp_path, "1;Ein Paar;04.03.2021;100;zugeschlagen;43;")])
    with pytest.raises(
        FitError, match="0 sales can be priced, and a fit needs 8 at least; 1 more have no silhouette"
    ):
        fit_ledger(ledger, MARKET_FILE, fitted_at=LATER)
