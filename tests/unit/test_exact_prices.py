"""Prices that the model explains without remainder: a band of honest width, and messages that are true."""

from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.errors import FitError
from pipeline.market.bands import Band
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair
from pipeline.market.price_distribution import price_distribution
from tests import drawn
from tests.restorations import VALUED_ON

PAIR = Pair(silhouette="Gannet Hi", era="first", foot_mm=271, grade=8.0, venue="Lantern Dock")


def sold_at(prices: np.ndarray) -> pl.DataFrame:  # type: ignore[type-arg]
    """Return the first drawn sales with these prices."""
    sales = drawn.sales(1500, 11).head(len(prices))
    return sales.with_columns(pl.Series("price_paid", prices), pl.Series("log_price", np.log(prices)))


@cache
def records(kind: str) -> pl.DataFrame:
    """Return sales whose prices follow from the pairs alone."""
    sales = drawn.sales(1500, 11)
    silhouette = sales["silhouette"].rank("dense").to_numpy()
    if kind == "an exact function":
        grade = sales["grade"].fill_null(6.0).to_numpy()
        return sold_at(np.exp(4 + 0.1 * grade + 0.1 * silhouette)[:300])
    if kind == "two prices":
        return sold_at(np.where(silhouette % 2 == 0, 100.0, 200.0)[:300])
    return sold_at(np.exp(4 + 0.1 * silhouette)[:20])  # fewer records than coefficients


@cache
def fitted(kind: str) -> FittedMarket:
    return drawn.fitted_to(records(kind))


@cache
def valued(kind: str) -> Appraisal:
    own = records(kind).filter(pl.col("silhouette") == PAIR.silhouette)
    return appraise(PAIR, fitted(kind), drawn.scenario_market(), own, as_of=VALUED_ON)


def eighty(appraisal: Appraisal) -> Band:
    return next(band for band in appraisal.bands if band.level == 0.8)


KINDS = ("an exact function", "two prices", "fewer records than coefficients")


@pytest.mark.parametrize("kind", KINDS)
def test_a_band_is_no_narrower_than_prices_are_rounded(kind: str) -> None:
    """By hand: 80 % of Gaussian errors of a fiftieth lie within 1.2816 × 0.02 = 0.02563, in log price."""
    found, band = valued(kind), eighty(valued(kind))

    assert np.log(found.median / band.low) >= 0.02563 - 1e-5
    assert np.log(band.high / found.median) >= 0.02563 - 1e-5


def test_the_price_distribution_has_the_same_least_width_as_the_appraisal() -> None:
    seen = price_distribution(fitted("two prices"), pair_factors((PAIR,), as_of=VALUED_ON))

    assert seen.centre[0] - seen.quantile(0.1)[0] >= 0.02563 - 1e-5


def test_three_hundred_prices_of_two_kinds_are_not_called_equal() -> None:
    assert valued("two prices").source.records == 300


def test_three_hundred_equal_prices_are_called_equal() -> None:
    with pytest.raises(FitError, match="all 300 prices are equal"):
        drawn.fitted_to(sold_at(np.full(300, 200.0)))
