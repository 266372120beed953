"""How fast offers sell: what an ask does, and when the records say too little."""

from datetime import date

import numpy as np
import polars as pl
import pytest

from pipeline.answers.consignment.time_to_sale import Hazard, learn_time_to_sale
from pipeline.ledger import open_ledger
from sample_data import scenario
from tests.demo_ledger import demo_ledger


def listings(count: int, *, slope: float = -3.0, seed: int = 5) -> tuple[pl.DataFrame, np.ndarray]:  # type: ignore[type-arg]
    """Return offers that sell by a constant hazard of 2.5 % a day at fair value, 90 days at most, and their values."""
    draws = np.random.default_rng(seed)
    gap = draws.normal(0, 0.25, count)
    fair = np.full(count, 5.0)
    waited = np.ceil(draws.exponential(1 / (0.025 * np.exp(slope * gap))))
    sold = waited <= 90
    ask = np.exp(fair + gap)
    frame = pl.DataFrame(
        {
            "sold": sold,
            "days": np.minimum(waited, 90).astype(np.int32),
            "ask_price": ask,
            "price_paid": np.where(sold, 0.95 * ask, np.nan),
            "era": ["first"] * count,
            "grade": [8.0] * count,
        }
    ).with_columns(pl.col("price_paid").fill_nan(None))
    return frame, fair


def hazard(count: int = 2000) -> Hazard:
    found = learn_time_to_sale(*listings(count)).hazard
    assert found is not None
    return found


def test_the_slope_that_offers_were_drawn_with_is_found() -> None:
    assert hazard().slope == pytest.approx(-3.0, abs=2 * hazard().error)


@pytest.mark.parametrize("days", [30, 60, 90])
def test_the_chance_of_a_sale_at_fair_value_is_the_true_one(days: int) -> None:
    assert hazard().chance(1.0, days) == pytest.approx(1 - np.exp(-0.025 * days), abs=0.03)


def test_a_higher_ask_never_sells_faster() -> None:
    chances = hazard().chance(np.linspace(0.5, 2.0, 40), 60)

    assert (np.diff(chances) < 0).all()


def test_a_longer_wait_never_lessens_the_chance() -> None:
    chances = [float(hazard().chance(1.2, days)) for days in (0, 1, 30, 90, 91, 400)]

    assert chances == sorted(chances)


def test_nothing_sells_before_it_is_offered() -> None:
    assert hazard().chance(1.0, 0) == 0


def test_what_buyers_paid_over_asks_is_the_mean_of_the_sold() -> None:
    assert hazard().paid_to_ask == pytest.approx(0.95)


def test_an_offer_that_sold_after_a_day_is_open_on_it() -> None:
    fixed = [venue.name for venue in scenario.market().venues if venue.kind != "auction"]
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        then, since = (
            ledger.read("marts/listings", venues=fixed, as_of=day)
            for day in (date(2022, 1, 1), date(2026, 10, 1))
        )

    both = then.join(since, on="record_id", suffix="_since")
    sold_later = both.filter(pl.col("sold_since"), pl.col("days_since") > pl.col("days"))
    assert sold_later.height
    assert not sold_later["sold"].any()


def test_sold_offers_alone_say_nothing_of_those_that_do_not_sell() -> None:
    frame, fair = listings(400)
    only_sold = frame["sold"].to_numpy()

    pace = learn_time_to_sale(frame.filter(pl.col("sold")), fair[only_sold])
    assert pace.hazard is None
    assert "0 unsold offers" in pace.why_not


def test_no_offers_at_all_say_nothing() -> None:
    frame, fair = listings(5)

    pace = learn_time_to_sale(frame.clear(), fair[:0])
    assert pace.hazard is None
