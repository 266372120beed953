"""A market of few sales: what may be said of it, and how wide its bands must be."""

from datetime import date

import numpy as np
import polars as pl
import pytest

from pipeline.answers.appraisal.answer import appraise
from pipeline.errors import FitError
from pipeline.market.bands import value_pairs
from pipeline.market.fitted_market import FittedMarket, from_stored, to_stored
from pipeline.market.pair import Pair
from tests import drawn

PAIR = Pair(silhouette="Gannet Hi", era="first", grade=8.0)


def split(count: int, seed: int) -> tuple[FittedMarket, pl.DataFrame]:
    """Return a market fitted to so many sales, and other sales to hold it against."""
    mixed = drawn.sales(1500, 11).sample(fraction=1, shuffle=True, seed=seed)
    return drawn.fitted_to(mixed.head(count)), mixed.tail(300)


def share_held(count: int, seed: int) -> float:
    fitted, others = split(count, seed)
    bands = value_pairs(fitted, others, (0.8,)).bands
    return float(np.mean(others["log_price"].is_between(bands["low"], bands["high"]).to_numpy()))


def test_fifty_sales_are_said_to_be_uncalibrated() -> None:
    fitted, _ = split(50, seed=1)

    cautions = appraise(
        PAIR, fitted, drawn.scenario_market(), drawn.sales(1500, 11).clear(), as_of=date(2026, 10, 1)
    ).cautions

    assert fitted.calibration is None
    assert any("uncalibrated" in caution and "50 sales are too few" in caution for caution in cautions)


def test_the_bands_of_fifty_sales_hold_two_thirds_of_others_at_least() -> None:
    assert float(np.mean([share_held(50, seed) for seed in range(4)])) > 0.67


def test_a_hundred_and_twenty_sales_hold_what_they_claim_or_nearly() -> None:
    assert float(np.mean([share_held(120, seed) for seed in range(3)])) > 0.75


def test_few_sales_are_never_explained_away() -> None:
    """Sixteen kinds of effect could fit twenty sales to the last cent; single sales scatter all the same."""
    fitted, _ = split(20, seed=2)

    assert fitted.fit.residual_scale > 0.1


def test_what_was_left_out_widens_a_band_and_never_narrows_it() -> None:
    fitted, others = split(50, seed=1)
    assert fitted.jackknife is not None
    ours = value_pairs(fitted, others, (0.8,)).bands
    calm = from_stored(*to_stored(fitted))
    assert calm.jackknife is not None
    calm.jackknife.scores[:] /= 100

    model = value_pairs(calm, others, (0.8,)).bands

    assert ((ours["high"] - ours["low"]) >= (model["high"] - model["low"]) - 1e-9).all()


def test_prices_that_are_all_equal_make_no_market() -> None:
    same = drawn.sales(1500, 11).head(100).with_columns(log_price=pl.lit(5.0), price_paid=pl.lit(148.4))

    with pytest.raises(FitError, match="all 100 prices are equal"):
        drawn.fitted_to(same)


def test_a_year_without_sales_is_bridged() -> None:
    sales = drawn.sales(1500, 11).filter(~pl.col("month").is_between(24290, 24301))

    fitted = drawn.fitted_to(sales)

    assert fitted.calibration is not None
    assert len(fitted.calibration.scores) > 200


def test_a_day_before_the_first_sale_has_a_wider_band_than_that_day() -> None:
    fitted, _ = split(300, seed=1)
    market, none = drawn.scenario_market(), drawn.sales(1500, 11).clear()
    first, early = (
        appraise(PAIR, fitted, market, none, as_of=day) for day in (fitted.first_sale, date(2010, 1, 1))
    )

    assert early.bands[1].high / early.bands[1].low > first.bands[1].high / first.bands[1].low


def test_no_sale_to_try_a_band_on_is_not_counted_as_zero_of_them() -> None:
    early = drawn.sales(1500, 11).sort("sold_on").head(60).with_columns(month=pl.lit(24300, pl.Int32))

    assert "since no sale came after enough others" in drawn.fitted_to(early).uncalibrated
