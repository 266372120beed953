"""What a year did to prices is one figure, wherever the market is told."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.market_view.answer import MarketView, view_market
from pipeline.hedonic.predict import log_prices
from pipeline.hedonic.trend import SHAPES, find_trend
from pipeline.ledger import open_ledger
from pipeline.market.model import month_number
from reports.market_view.page import market_figures
from tests import drawn
from tests.demo_ledger import demo_ledger


@cache
def viewed(trending: bool = False) -> MarketView:
    """Return the view of a market drawn from the demo's truth, no pair sold twice, with a trend or without."""
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        resales = ledger.read("marts/repeat_sales").clear()
        activity = ledger.read("marts/market_activity", as_of=date(2000, 1, 1))
    sales = drawn.sales(1500, 11)
    fitted = drawn.fitted_plainly(sales)
    trend = find_trend(fitted.fit, "month", SHAPES[0]) if trending else None
    return view_market(
        replace(fitted, fit=replace(fitted.fit, trend=trend)),
        drawn.scenario_market(),
        sales,
        resales,
        activity,
        as_of=date(2026, 10, 1),
    )


def test_the_whole_market_beside_its_eras_is_the_change_over_twelve_months() -> None:
    [year] = [figure for figure in market_figures(viewed()) if figure.key == "year"]
    [twelve] = [change for change in viewed().changes if change.months == 12]
    row = year.rows.filter(pl.col("words") == "The whole market").row(0, named=True)

    assert row["percent"] == pytest.approx(100 * (twelve.factor - 1), abs=1e-3)


def test_the_chart_of_eras_stands_in_the_order_of_the_market_file() -> None:
    [eras] = [figure for figure in market_figures(viewed()) if figure.key == "worth-era"]
    order = [era.name for era in drawn.scenario_market().eras]
    values = [value for value in eras.rows["value"] if value in order]

    assert values == [era for era in order if era in values]


def test_an_index_that_goes_on_with_the_trend_says_so() -> None:
    assert "In its last months the index counts the market's trend, as values do." in viewed(True).cautions
    assert any("from there the index goes on with the trend" in caution for caution in viewed(True).cautions)


def test_an_index_without_a_trend_is_flat_after_the_last_sale() -> None:
    assert any("from there the index is flat" in caution for caution in viewed().cautions)


def test_with_a_trend_the_market_of_the_last_month_is_the_level_at_which_pairs_are_valued() -> None:
    """The index of the month after the last one over that of the last is the step between values at these months."""
    last, after = viewed(True).index[-2:]
    fitted = drawn.fitted_plainly(drawn.sales(1500, 11)).fit
    moving = replace(fitted, trend=find_trend(fitted, "month", SHAPES[0]))
    pair = drawn.sales(1500, 11)[[0, 0]].with_columns(
        month=pl.Series([month_number(last.period), month_number(after.period)])
    )

    values = log_prices(moving, pair)

    assert after.index / last.index == pytest.approx(np.exp(values[1] - values[0]))
