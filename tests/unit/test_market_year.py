"""What a year did to prices is one figure, wherever the market is told."""

from datetime import date
from functools import cache

import polars as pl
import pytest

from pipeline.answers.market_view.answer import MarketView, view_market
from pipeline.ledger import open_ledger
from reports.market_view.page import market_figures
from tests import drawn
from tests.demo_ledger import demo_ledger


@cache
def viewed() -> MarketView:
    """Return the view of a market drawn from the demo's truth, in which no pair was sold twice."""
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        resales = ledger.read("marts/repeat_sales").clear()
        activity = ledger.read("marts/market_activity", as_of=date(2000, 1, 1))
    sales = drawn.sales(1500, 11)
    return view_market(
        drawn.fitted_plainly(sales),
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
