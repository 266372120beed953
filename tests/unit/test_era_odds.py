"""An era in doubt: the mixed band, and what an answer is worth."""

from functools import cache

import numpy as np
import polars as pl
import pytest
from scipy.stats import norm

from pipeline.answers.era_odds.answer import (
    EraInDoubt,
    mixture_quantile,
    read_odds,
    value_in_doubt,
    worth_of_finding_out,
)
from pipeline.errors import PairError
from pipeline.market.pair import Pair
from sample_data import scenario
from tests.demo_ledger import demo_sales
from tests.restorations import VALUED_ON, demo_market_fitted

PAIR = Pair(silhouette="Gannet Hi", colourway="Buoy Red", foot_mm=270, grade=7.0)
MARKET = scenario.market()


@cache
def doubt(first: float, at_price: float | None = None) -> EraInDoubt:
    sales = demo_sales().filter(pl.col("silhouette") == PAIR.silhouette)
    odds = {era: chance for era, chance in (("first", first), ("late reissue", 1 - first)) if chance}
    return value_in_doubt(PAIR, odds, demo_market_fitted(), sales, as_of=VALUED_ON, at_price=at_price)


def normals(*centres: float) -> list[tuple[np.ndarray, np.ndarray]]:
    chances = np.linspace(0.0005, 0.9995, 1999)
    return [(chances, centre + norm.ppf(chances)) for centre in centres]


def test_odds_are_read_by_era_without_regard_to_case() -> None:
    assert read_odds("First = 0.7, late reissue=.3", MARKET) == pytest.approx(
        {"first": 0.7, "late reissue": 0.3}
    )


def test_an_era_without_a_chance_is_left_out() -> None:
    assert read_odds("first=1, second=0", MARKET) == {"first": 1.0}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("first=0.7,reisue=0.3", "no era is called 'reisue'"),
        ("first=0.7", "come to 0.7"),
        ("first=0.7,first=0.3", "name 'first' twice"),
        ("first=often", "is 'often'"),
        ("first", "is ''"),
        ("first=1.5,second=-0.5", "is '1.5'"),
    ],
)
def test_impossible_odds_are_refused(words: str, told: str) -> None:
    with pytest.raises(PairError, match=told):
        read_odds(words, MARKET)


def test_a_mixture_of_one_is_that_one() -> None:
    assert mixture_quantile(normals(2.0), np.array([1.0]), 0.9) == pytest.approx(2 + norm.ppf(0.9), abs=1e-3)


def test_half_of_a_mixture_of_two_far_apart_lies_in_each() -> None:
    ends = [mixture_quantile(normals(0.0, 50.0), np.array([0.5, 0.5]), chance) for chance in (0.25, 0.75)]

    assert ends == pytest.approx([0.0, 50.0], abs=1e-3)


def test_a_mixture_of_overlapping_prices_has_the_quantile_of_their_sum() -> None:
    place = mixture_quantile(normals(0.0, 1.0), np.array([0.3, 0.7]), 0.8)

    assert 0.3 * norm.cdf(place) + 0.7 * norm.cdf(place - 1) == pytest.approx(0.8, abs=1e-4)


def test_an_answer_is_worth_what_it_saves_by_hand() -> None:
    # worth 500 or 100, evenly; asked 250: knowing, take it half the time for 250; not knowing, take it for 50
    assert worth_of_finding_out(np.array([0.5, 0.5]), np.array([500.0, 100.0]), 250.0) == pytest.approx(75)


@pytest.mark.parametrize("price", [50.0, 600.0])
def test_an_answer_that_changes_nothing_is_worth_nothing(price: float) -> None:
    assert worth_of_finding_out(np.array([0.5, 0.5]), np.array([500.0, 100.0]), price) == 0.0


def test_an_answer_is_worth_most_at_the_average() -> None:
    chances, values = np.array([0.6, 0.4]), np.array([500.0, 100.0])
    worths = [worth_of_finding_out(chances, values, price) for price in np.linspace(90, 510, 211)]

    assert worth_of_finding_out(chances, values, 340.0) >= max(worths) - 1e-9


def test_a_certain_era_is_valued_as_that_era() -> None:
    told = doubt(1.0)

    assert told.median == pytest.approx(told.eras[0].median, rel=1e-6)
    assert told.finding_out == 0.0


def test_a_doubt_widens_the_band() -> None:
    widths = [np.log(band.high / band.low) for band in (doubt(1.0).bands[1], doubt(0.5).bands[1])]

    assert widths[1] > 1.5 * widths[0]


def test_the_median_rises_with_the_chance_of_the_more_expensive_era() -> None:
    medians = [doubt(chance).median for chance in (0.0, 0.3, 0.5, 0.7, 1.0)]

    assert medians == sorted(medians)


def test_the_average_weighs_the_eras_by_their_chances() -> None:
    told = doubt(0.7)

    assert told.average == pytest.approx(sum(era.chance * era.median for era in told.eras))
    assert told.at_price == told.average


def test_at_the_price_of_the_more_expensive_era_an_answer_is_worth_nothing() -> None:
    assert doubt(0.7, doubt(0.7).eras[0].median).finding_out == pytest.approx(0)


def test_an_era_without_a_sale_is_a_caution() -> None:
    sales = demo_sales().filter(pl.col("silhouette") == "Great Auk Hi")
    told = value_in_doubt(
        Pair(silhouette="Great Auk Hi"),
        {"first": 0.5, "second": 0.5},
        demo_market_fitted(),
        sales,
        as_of=VALUED_ON,
    )

    assert told.cautions[0].startswith("No sale stands behind the value as first or second")
