"""A market is the same wherever its sales lie, in whatever order and parts, in memory or in files.

Tolerance: 1e-9 on effects, errors, lambdas, scatter and limits of the bands. The sums are added in another order, which
moves their last digits; the searches stop far below the tolerance.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import date
from functools import cache
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest

from pipeline.hedonic import arrays
from pipeline.hedonic.coding import find_coding
from pipeline.hedonic.database import DatabaseSource
from pipeline.hedonic.fit import fit_source
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.leverage import Leverages
from pipeline.hedonic.predict import design_rows
from pipeline.hedonic.source import ONE_STAGE, Source, Stages
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.fit import fit_market
from pipeline.market.fitted_market import FittedMarket
from tests import drawn

CLOSE = 1e-9
Place = Callable[[Path], AbstractContextManager[Source]]
SALES = 700


def market_of(source: Source) -> FittedMarket:
    return fit_market(
        source, drawn.scenario_market(), records_digest="", version="", fitted_on=date(2026, 10, 1)
    )


def sales() -> pl.DataFrame:
    return drawn.sales(SALES, 5).sort("record_id")


@cache
def in_memory() -> FittedMarket:
    return market_of(FrameSource(sales()))


@contextmanager
def shuffled_frame(_: Path) -> Iterator[Source]:
    yield FrameSource(sales().sample(fraction=1.0, shuffle=True, seed=3))


@contextmanager
def relation(_: Path) -> Iterator[Source]:
    with duckdb.connect() as connection:
        yield DatabaseSource(connection, connection.from_arrow(sales().to_arrow()))


@contextmanager
def shuffled_relation(_: Path) -> Iterator[Source]:
    with duckdb.connect() as connection:
        mixed = sales().sample(fraction=1.0, shuffle=True, seed=9)
        yield DatabaseSource(connection, connection.from_arrow(mixed.to_arrow()))


@contextmanager
def years_of_parquet(folder: Path) -> Iterator[Source]:
    by_year = sales().with_columns(year=pl.col("sold_on").dt.year())
    by_year.write_parquet(pl.PartitionBy(folder, key=["year"], include_key=False))
    with duckdb.connect() as connection:
        yield DatabaseSource(connection, folder)


@pytest.mark.parametrize("lie", [shuffled_frame, relation, shuffled_relation, years_of_parquet])
def test_a_market_is_the_same_wherever_its_sales_lie(lie: Place, tmp_path: Path) -> None:
    with lie(tmp_path) as source:
        found = market_of(source)
    expected = in_memory()
    for one, other in ((found.fit, expected.fit), (found.scatter, expected.scatter)):
        assert one.coefficients == pytest.approx(other.coefficients, abs=CLOSE)
        assert one.covariance.diagonal() == pytest.approx(other.covariance.diagonal(), abs=CLOSE)
        assert one.lambdas == pytest.approx(other.lambdas, rel=CLOSE)
        assert one.residual_scale == pytest.approx(other.residual_scale, abs=CLOSE)
    assert found.calibration is not None
    assert expected.calibration is not None
    for level, limits in expected.calibration.settled.items():
        again = found.calibration.settled[level]
        assert (again.low, again.high) == pytest.approx((limits.low, limits.high), abs=CLOSE)


def test_coded_records_in_a_file_are_those_in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arrays, "IN_MEMORY", 10)

    found = market_of(FrameSource(sales()))

    assert found.fit.coefficients.tolist() == in_memory().fit.coefficients.tolist()
    assert found.scatter.coefficients.tolist() == in_memory().scatter.coefficients.tolist()


def test_the_same_sales_are_sampled_wherever_they_lie() -> None:
    with relation(Path()) as source:
        assert (
            source.sample(50)["record_id"].to_list() == FrameSource(sales()).sample(50)["record_id"].to_list()
        )


def test_a_sample_of_more_sales_than_there_are_is_all_of_them() -> None:
    with shuffled_relation(Path()) as source:
        assert source.sample(SALES)["record_id"].to_list() == sales()["record_id"].to_list()


def test_the_records_of_a_tally_are_found_again_by_their_numbers() -> None:
    with shuffled_relation(Path()) as source:
        listed = market_of(source).fit.downweighted
        found = source.rows(listed["row"].to_list())["record_id"].to_list()
    kept = in_memory().fit.downweighted
    assert found == sales()[kept["row"].to_list()]["record_id"].to_list()


def test_a_record_belongs_to_the_stage_of_the_origins_that_are_not_after_it() -> None:
    frame = pl.DataFrame({"month": [1, 5, 6, 9], "box": ["lid"] * 4, "log_price": [1.0, 2.0, 3.0, 4.0]})
    with duckdb.connect() as connection:
        there = DatabaseSource(connection, connection.from_arrow(frame.to_arrow()))
        counted = [source.levels([()], Stages("month", (5, 9)))[0] for source in (FrameSource(frame), there)]
    for levels in counted:
        assert dict(levels.sort("stage").iter_rows()) == {0: 1, 1: 2, 2: 1}


@pytest.mark.parametrize("records", [0, 700, 10**9])
def test_leverages_by_tables_and_by_coefficients_agree(records: int) -> None:
    """With no records all super-factors are wide, with 700 some, and with a thousand million none."""
    fitted, source = in_memory().fit, FrameSource(sales())
    coding = find_coding(source, fitted.specification.terms, ONE_STAGE)
    carried = coding.carried(coding.design(fitted.specification, 0))[:, fitted.layout.cells]
    own = Leverages(carried, coding.places, fitted.covariance, records)

    coded = source.code(coding, fitted.specification, ONE_STAGE)
    found = coded.add_up(lambda batches: {"leverages": [own.of(batch) for batch in batches]})["leverages"]

    rows = design_rows(fitted, sales()).toarray()
    dense = fitted.covariance.dense()
    assert np.concatenate(found) == pytest.approx(np.einsum("ij,jk,ik->i", rows, dense, rows), rel=1e-8)


def test_a_model_without_terms_is_the_mean_price_in_every_source() -> None:
    frame, nothing = pl.DataFrame({"log_price": [1.0, 2.0, 3.0, 10.0]}), Specification("log_price", ())
    with duckdb.connect() as connection:
        there = DatabaseSource(connection, connection.from_arrow(frame.to_arrow()))
        found = [fit_source(source, nothing).coefficients.tolist() for source in (FrameSource(frame), there)]
    assert found == [[4.0], [4.0]]


def test_every_number_of_a_term_may_be_another_one() -> None:
    """A slope over ten thousand different numbers, against the least squares of numpy."""
    draws = np.random.default_rng(8)
    places = draws.normal(0, 1, 10_000)
    frame = pl.DataFrame({"wear": places, "log_price": 3 + 0.5 * places + draws.normal(0, 0.1, 10_000)})
    found = fit_source(FrameSource(frame), Specification("log_price", (Term("wear", "linear", ("wear",)),)))
    slope, level = np.polyfit(places, frame["log_price"].to_numpy(), 1)
    assert found.coefficients == pytest.approx([level, slope], abs=1e-9)
