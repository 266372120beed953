"""The bidding rule on past lots: nothing is known before its day."""

from dataclasses import replace
from math import log

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.answers.backtest.answer import FEWEST_PAIRS, backtest_lots, kept_share
from sample_data import scenario
from tests.backtests import NO_PAIRS, RULE, drawn_backtest, knocked_down
from tests.drawn import fitted_plainly, sales

GREEDY = replace(RULE, margin=0.0, confidence=0.5)


def test_a_won_lot_was_bid_on_above_what_it_was_knocked_down_at() -> None:
    won = drawn_backtest().won

    assert won.height > 0
    assert (won["walk_away"] >= won["paid"]).all()
    assert (won["paid"] > won["knocked_down"]).all()


def test_what_was_paid_later_changes_no_earlier_bid() -> None:
    frame = sales(1200, 11)
    later = pl.col("month") > int(str(frame["month"].max())) - 3
    dearer = frame.with_columns(
        price_paid=pl.when(later).then(3 * pl.col("price_paid")).otherwise("price_paid"),
        log_price=pl.when(later).then(pl.col("log_price") + log(3)).otherwise("log_price"),
    )

    changed = backtest_lots(
        dearer, knocked_down(dearer), NO_PAIRS, fitted_plainly(frame), scenario.market(), RULE
    ).won
    before = pl.col("record_id").is_in(frame.filter(~later)["record_id"].implode())
    assert_frame_equal(changed.filter(before), drawn_backtest().won.filter(before))


def test_a_lot_won_promises_less_than_its_value_alone() -> None:
    assert drawn_backtest().forecast < drawn_backtest().hoped


def test_a_modest_margin_wins_more_lots_and_gains_less_on_each() -> None:
    greedy = drawn_backtest(terms=GREEDY)

    assert greedy.won.height > drawn_backtest().won.height
    assert greedy.realised < drawn_backtest().realised


def test_the_band_lies_about_the_forecast() -> None:
    found = drawn_backtest(terms=GREEDY)

    assert found.low < found.forecast < found.high


def test_losses_are_the_won_lots_that_realised_less_than_nothing() -> None:
    found = drawn_backtest(terms=GREEDY)

    assert found.losses == found.won.filter(pl.col("realised") < 0).height


def test_without_sales_enough_before_it_no_lot_is_judged() -> None:
    frame = sales(1200, 11)
    few = frame.sort("sold_on").head(20)

    found = backtest_lots(few, knocked_down(few), NO_PAIRS, fitted_plainly(frame), scenario.market(), RULE)
    assert (found.lots, found.won.height, found.first) == (0, 0, None)


def test_too_few_pairs_sold_twice_say_nothing_of_what_a_pair_keeps() -> None:
    frame = sales(1200, 11)
    pairs = frame.select("record_id", other_id=pl.col("record_id").shift(-1)).head(FEWEST_PAIRS - 1)

    assert kept_share(fitted_plainly(frame), frame, pairs) == (0.0, FEWEST_PAIRS - 1)


def test_a_pair_that_fetches_the_same_beside_its_value_each_time_keeps_all_of_it() -> None:
    frame = sales(1200, 11)
    same = frame.select("record_id", other_id="record_id").head(200)

    assert kept_share(fitted_plainly(frame), frame, same)[0] == pytest.approx(1.0)


def test_strangers_keep_nothing_of_one_another() -> None:
    frame = sales(1200, 11).sample(fraction=1.0, shuffle=True, seed=7)
    strangers = frame.select("record_id", other_id=pl.col("record_id").shift(-1)).drop_nulls()

    assert kept_share(fitted_plainly(frame), frame, strangers)[0] < 0.1
