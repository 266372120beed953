"""The price axis of the charts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.charts.price_axis import price_axis

PRICES = st.lists(st.floats(min_value=0.5, max_value=5e6), min_size=1, max_size=30)


def test_prices_that_lie_close_have_a_linear_axis() -> None:
    assert price_axis([900.0, 1200.0]).kind == "linear"


def test_prices_that_span_more_than_threefold_have_a_logarithmic_axis() -> None:
    assert price_axis([100.0, 1200.0]).kind == "log"


def test_ticks_are_round() -> None:
    assert price_axis([1080.0, 2280.0]).ticks == (1250.0, 1500.0, 1750.0, 2000.0, 2250.0)


@pytest.mark.parametrize(("low", "high"), [(94.0, 2150.0), (3.0, 90_000.0)])
def test_a_logarithmic_axis_has_three_to_six_ticks(low: float, high: float) -> None:
    assert 3 <= len(price_axis([low, high]).ticks) <= 6


def test_a_single_price_still_has_an_axis() -> None:
    axis = price_axis([250.0])
    assert axis.low < 250.0 < axis.high


@given(PRICES)
def test_every_price_and_tick_lies_on_the_axis(prices: list[float]) -> None:
    axis = price_axis(prices)
    assert axis.low <= min(prices)
    assert axis.high >= max(prices)
    assert all(axis.low <= tick <= axis.high for tick in axis.ticks)


@given(PRICES)
def test_ticks_rise(prices: list[float]) -> None:
    ticks = price_axis(prices).ticks
    assert list(ticks) == sorted(set(ticks))
