"""The demo's market against the truth that its sales were drawn from."""

from datetime import date
from functools import cache

import numpy as np
import polars as pl

from pipeline.answers.market_view.activity import activity_of
from pipeline.answers.market_view.answer import MarketView, view_market
from pipeline.hedonic.fit import fit
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.second_stage import UNUSED
from pipeline.ledger import open_ledger
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import specification
from sample_data.truth import DEFECTS, MONTH_LEVELS
from tests.demo_ledger import demo_ledger, demo_sales
from tests.drawn import scenario_market

AS_OF = date(2026, 9, 30)


@cache
def view() -> MarketView:
    """Return the market of the demo's ledger on the last day of its exports."""
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        resales = ledger.read("marts/repeat_sales")
        activity = ledger.read("marts/market_activity", as_of=AS_OF)
    return view_market(fitted(), scenario_market(), demo_sales(), resales, activity, as_of=AS_OF)


def fitted() -> FittedMarket:
    """Return the demo's fit without the calibration of its bands, which the market does not read."""
    sales = demo_sales().sort("record_id")
    estimated = fit(
        sales, specification(scenario_market(), sales), robust=Robust(degrees_of_freedom=5.0), tolerance=1e-4
    )
    days = sales["sold_on"].to_list()
    return FittedMarket(
        fit=estimated,
        scatter=estimated,
        calibration=None,
        uncalibrated="not asked for",
        second_stage=UNUSED,
        fit_id="demo",
        fitted_on=AS_OF,
        currency="EUR",
        records=sales.height,
        first_sale=min(days),
        last_sale=max(days),
        market_digest="demo",
        records_digest="demo",
        version="test",
    )


def test_the_index_holds_the_true_level_in_most_months() -> None:
    points = view().index
    true = 100 * np.exp(np.array(MONTH_LEVELS) - MONTH_LEVELS[0])
    held = [point.low <= level <= point.high for point, level in zip(points, true, strict=True)]
    assert np.mean(held) >= 0.7


def test_no_era_moves_differently_where_none_does() -> None:
    assert [group.name for split in view().splits for group in split.different] == []


def test_defects_are_worth_what_they_take_off() -> None:
    errors = [
        (one.effect.share - np.expm1(DEFECTS[one.value])) / one.effect.error
        for one in view().attribute_values
        if one.attribute == "defect" and one.value in DEFECTS
    ]
    assert len(errors) == len(DEFECTS)
    assert max(abs(error) for error in errors) < 3


def test_no_value_moved_where_none_does() -> None:
    assert [one.value for one in view().attribute_values if one.moved] == []


def test_resales_agree_with_the_index() -> None:
    agreement = view().resales.agreement
    assert agreement is not None
    assert 0.93 < agreement.factor < 1.07


def test_what_sold_and_did_not_adds_up_to_the_offers_that_ended() -> None:
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        sold = ledger.connection.sql("SELECT count(*) FROM sales WHERE status = 'sold'").fetchall()[0][0]
        quarters = ledger.read("marts/market_activity", as_of=AS_OF)
    assert sum(row.sold for row in activity_of(quarters)) == sold


def test_offers_that_end_later_are_not_counted() -> None:
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        quarters = ledger.read("marts/market_activity", as_of=date(2019, 12, 31))
    assert quarters["quarter"].max() == date(2019, 10, 1)


def test_the_days_on_market_are_those_from_offer_to_sale() -> None:
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        quarters = ledger.read("marts/market_activity", as_of=AS_OF)
        dated = pl.DataFrame(
            ledger.connection.sql(
                "SELECT sold_on - offered_on AS days FROM sales WHERE venue = 'Lantern Dock' AND status = 'sold' "
                "AND sold_on BETWEEN '2024-01-01' AND '2024-03-31' AND offered_on IS NOT NULL"
            )
        )
    row = quarters.filter(venue="Lantern Dock", quarter=date(2024, 1, 1))
    assert row["days_to_sale"].item() == dated["days"].median()
