"""The bidding rule on past lots: nothing is known before its day."""

from dataclasses import replace
from decimal import Decimal
from math import log

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.answers.backtest.answer import (
    FEWEST_PAIRS,
    Backtest,
    backtest_lots,
    kept_share,
    with_next_sales,
)
from pipeline.hedonic.trend import SHAPES, TrendStage
from sample_data import scenario
from tests.backtests import NO_PAIRS, RULE, drawn_backtest, knocked_down
from tests.drawn import fitted_plainly, sales

GREEDY = replace(RULE, margin=0.0, confidence=0.5)


def test_a_won_lot_was_bid_on_above_its_hammer_price() -> None:
    won = drawn_backtest().won

    assert won.height > 0
    assert (won["walk_away"] >= won["paid"]).all()
    assert (won["paid"] > won["knocked_down"]).all()


def test_what_was_paid_later_changes_no_earlier_bid() -> None:
    frame = sales(1200, 11)
    later = pl.col("month") > int(str(frame["month"].max())) - 3
    raised = frame.with_columns(
        price_paid=pl.when(later).then(3 * pl.col("price_paid")).otherwise("price_paid"),
        log_price=pl.when(later).then(pl.col("log_price") + log(3)).otherwise("log_price"),
    )

    changed = backtest_lots(
        raised, knocked_down(raised), NO_PAIRS, fitted_plainly(frame), scenario.market(), RULE
    ).won
    before = pl.col("record_id").is_in(frame.filter(~later)["record_id"].implode())
    assert_frame_equal(changed.filter(before), drawn_backtest().won.filter(before))


def test_past_lots_are_valued_with_the_trend_where_values_are() -> None:
    frame = sales(1200, 11)
    stage = TrendStage(True, *SHAPES[0], 0.002, 0.001, 0.9, 0.3)
    fitted, trending = fitted_plainly(frame), replace(fitted_plainly(frame), trend=stage)

    plain, moved = (
        backtest_lots(frame, knocked_down(frame), NO_PAIRS, one, scenario.market(), GREEDY).won.select(
            "record_id", "walk_away"
        )
        for one in (fitted, trending)
    )

    both = plain.join(moved, on="record_id", suffix="_moved")
    assert (both["walk_away"] != both["walk_away_moved"]).any()


def test_the_forecast_of_a_won_lot_is_below_that_of_its_value_alone() -> None:
    assert drawn_backtest().forecast < drawn_backtest().hoped


def test_a_modest_margin_wins_more_lots_and_gains_less_on_each() -> None:
    greedy = drawn_backtest(terms=GREEDY)

    assert greedy.won.height > drawn_backtest().won.height
    assert greedy.realised < drawn_backtest().realised


def test_the_range_is_around_the_forecast() -> None:
    found = drawn_backtest(terms=GREEDY)

    assert found.low < found.forecast < found.high


def test_losses_are_the_won_lots_that_lost_money() -> None:
    found = drawn_backtest(terms=GREEDY)

    assert found.losses == found.won.filter(pl.col("realised") < 0).height


def test_without_enough_earlier_sales_no_lot_is_judged() -> None:
    frame = sales(1200, 11)
    few = frame.sort("sold_on").head(20)

    found = backtest_lots(few, knocked_down(few), NO_PAIRS, fitted_plainly(frame), scenario.market(), RULE)
    assert (found.lots, found.won.height, found.first) == (0, 0, None)


def test_with_too_few_pairs_sold_twice_a_pair_keeps_none_of_its_residual() -> None:
    frame = sales(1200, 11)
    pairs = frame.select("record_id", other_id=pl.col("record_id").shift(-1)).head(FEWEST_PAIRS - 1)

    assert kept_share(fitted_plainly(frame), frame, pairs) == (0.0, FEWEST_PAIRS - 1)


def test_a_pair_with_the_same_residual_each_time_keeps_all_of_it() -> None:
    frame = sales(1200, 11)
    same = frame.select("record_id", other_id="record_id").head(200)

    assert kept_share(fitted_plainly(frame), frame, same)[0] == pytest.approx(1.0)


def test_unrelated_sales_share_hardly_any_residual() -> None:
    frame = sales(1200, 11).sample(fraction=1.0, shuffle=True, seed=7)
    strangers = frame.select("record_id", other_id=pl.col("record_id").shift(-1)).drop_nulls()

    assert kept_share(fitted_plainly(frame), frame, strangers)[0] < 0.1


def next_sale(tested: Backtest, **change: object) -> pl.DataFrame:
    """Return a sale at the counter, a year later, of the pair of the first won lot."""
    won = tested.won.row(0, named=True)
    sale = {
        "first_id": won["record_id"],
        "venue": scenario.COUNTER,
        "sold_on": won["sold_on"].replace(day=1, year=won["sold_on"].year + 1),
        "currency": "EUR",
        "price_basis": "all-in",
        **dict.fromkeys(("price_native", "all_in_native", "price_paid"), Decimal(500)),
        "net_native": None,
        "rate": 1.0,
        "flags": [],
    }
    amounts = dict.fromkeys(("price_native", "all_in_native", "net_native", "price_paid"), pl.Decimal(18, 4))
    return pl.DataFrame([sale | change], schema_overrides={**amounts, "flags": pl.List(pl.String)})


def test_a_won_lot_has_earned_what_the_next_sale_of_its_pair_left() -> None:
    tested = drawn_backtest()
    found = with_next_sales(tested, next_sale(tested), scenario.market()).won

    assert found["earned"].drop_nulls().to_list() == [pytest.approx(500 - RULE.costs - found["landed"][0])]


def test_a_sale_of_the_pair_that_is_not_after_the_lot_has_earned_nothing() -> None:
    tested = drawn_backtest()
    same_day = next_sale(tested, sold_on=tested.won["sold_on"][0])

    assert with_next_sales(tested, same_day, scenario.market()).won.equals(tested.won)
