"""The price distributions of pairs: the same bands as an appraisal's, as a whole distribution."""

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.hedonic.predict import log_prices, predict, predict_both
from pipeline.market.bands import value_pairs
from pipeline.market.model import FACTORS
from pipeline.market.price_distribution import (
    CHANCES,
    PriceDistribution,
    price_distribution,
    price_distributions_at,
)
from sample_data import scenario
from tests.drawn import fitted, sales

SPLINE = 1e-6
"""What the spline may err by, of a band's width in log price."""


def pairs(count: int) -> pl.DataFrame:
    return sales(1500, 11).select(*FACTORS).head(count)


def seen(count: int = 200) -> PriceDistribution:
    return price_distribution(fitted(), pairs(count))


@pytest.mark.parametrize("count", [1, 40, 200])
def test_the_quantiles_are_the_ends_of_the_appraisals_bands(count: int) -> None:
    bands = value_pairs(fitted(), pairs(count), (0.8,)).bands

    ends = seen(count)
    assert ends.quantile(0.1) == pytest.approx(bands["low"].to_numpy(), abs=SPLINE)
    assert ends.quantile(0.9) == pytest.approx(bands["high"].to_numpy(), abs=SPLINE)


def test_the_table_rises() -> None:
    assert (np.diff(seen().table, axis=1) >= 0).all()


def test_half_of_such_pairs_sell_below_the_median() -> None:
    assert seen().chance_below(seen().centre) == pytest.approx(np.full(200, 0.5), abs=1e-9)


@pytest.mark.parametrize("place", [-9.0, 99.0])
def test_a_chance_beyond_the_table_is_that_of_its_end(place: float) -> None:
    chance = seen().chance_below(np.full(200, place))

    assert set(chance) == {CHANCES[0] if place < 0 else CHANCES[-1]}


def test_the_mean_of_a_sure_worth_is_that_worth() -> None:
    assert seen().expect(lambda prices: np.full(prices.shape, 7.0)) == pytest.approx(np.full(200, 7.0))


def test_the_mean_price_lies_above_the_median_price() -> None:
    assert (seen().expect(lambda prices: prices) > np.exp(seen().centre)).all()


def test_some_of_the_pairs_have_the_distribution_that_they_have_among_all() -> None:
    some = np.array([3, 17, 4])

    assert seen().rows(some).quantile(0.2) == pytest.approx(seen().quantile(0.2)[some], abs=SPLINE)


def test_the_distribution_at_a_venue_is_that_of_pairs_offered_there() -> None:
    there = price_distributions_at(fitted(), pairs(60), scenario.UMIKAZE)[1]
    moved = price_distribution(fitted(), pairs(60).with_columns(venue=pl.lit(scenario.UMIKAZE)))

    assert there.table == pytest.approx(moved.table, abs=1e-9)


@pytest.mark.parametrize("venue", [scenario.UMIKAZE, "Nowhere Known"])
def test_two_predictions_at_once_are_two_predictions(venue: str) -> None:
    changed = pl.DataFrame({"venue": [venue] * 60})

    both = predict_both(fitted().fit, pairs(60), changed)
    assert_frame_equal(both[0], predict(fitted().fit, pairs(60)))
    assert_frame_equal(both[1], predict(fitted().fit, pairs(60).with_columns(changed)))


def test_log_prices_alone_are_those_of_a_prediction() -> None:
    assert log_prices(fitted().fit, pairs(60)) == pytest.approx(
        predict(fitted().fit, pairs(60))["log_price"].to_numpy()
    )
