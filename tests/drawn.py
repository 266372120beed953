"""Sales drawn from the demo's known truth, in the columns of priced sales, and a fit to them."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import polars as pl

from pipeline.config import Market
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.rolling import AtOrigin, learn_from_all
from pipeline.hedonic.second_stage import UNUSED, SecondStage
from pipeline.market.fit import fit_at_origins, fit_market, fit_prices
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.settings import fit_settings
from pipeline.schema import SIZE_STEP_MM
from sample_data import scenario, truth
from sample_data.generator import draw_sales


def scenario_market() -> Market:
    """Return the demo's market file."""
    return scenario.market()


def priced(drawn: pl.DataFrame) -> pl.DataFrame:
    """Return drawn sales in the columns of sql/marts/priced_sales.sql."""
    return drawn.with_columns(
        pl.int_range(pl.len()).cast(pl.String).str.zfill(6).alias("record_id"),
        pl.concat_str("silhouette", pl.lit(" "), "colourway").alias("title"),
        pl.col("price_paid").log().alias("log_price"),
        (SIZE_STEP_MM * (pl.col("foot_mm") / SIZE_STEP_MM).round()).cast(pl.Int32).alias("size_mm"),
        (12 * pl.col("sold_on").dt.year() + pl.col("sold_on").dt.month() - 1).cast(pl.Int32).alias("month"),
    )


@cache
def sales(count: int, seed: int) -> pl.DataFrame:
    """Return so many priced sales of the scenario."""
    return priced(draw_sales(count, seed=seed))


@cache
def sales_of_many(count: int, *, silhouettes: int, colourways: int, seed: int = 17) -> pl.DataFrame:
    """Return so many priced sales of so many silhouettes, in as many colourways each, that differ as those of a market.

    All else is drawn as the demo's; a twentieth of the silhouettes has half of the sales.
    """
    random = np.random.default_rng(seed)
    common = random.random(count) < 0.5
    silhouette = np.where(
        common, random.integers(0, max(1, silhouettes // 20), count), random.integers(0, silhouettes, count)
    )
    colourway = random.integers(0, colourways, count)
    worth = random.normal(0, 0.3, silhouettes)[silhouette]
    worth += random.normal(0, 0.15, (silhouettes, colourways))[silhouette, colourway]
    effects = pl.Series(worth)
    return sales(count, seed).with_columns(
        pl.Series("silhouette", [f"Silhouette {number:04}" for number in silhouette]),
        pl.Series("colourway", [f"Colourway {number}" for number in colourway]),
        pl.col("log_price") + effects,
        (pl.col("log_price") + effects).exp().alias("price_paid"),
    )


@cache
def sales_falling_in_grade(count: int = 1500, seed: int = 13) -> pl.DataFrame:
    """Return drawn sales in which a better grade fetched a little less, by no more than chance explains."""
    return falling_in_grade(sales(count, seed))


def falling_in_grade(frame: pl.DataFrame) -> pl.DataFrame:
    """Return drawn sales as if a better grade had fetched a little less."""
    effect = pl.col("grade").replace_strict(truth.GRADES, default=0.0, return_dtype=pl.Float64)
    flat = frame.with_columns(pl.col("log_price") - effect - 0.004 * pl.col("grade"))
    return flat.with_columns(pl.col("log_price").exp().alias("price_paid"))


def fit_to(frame: pl.DataFrame) -> Fit:
    """Return the fit alone to priced sales, its bands not calibrated."""
    return fit_prices(source_of(frame), scenario_market())


def source_of(frame: pl.DataFrame) -> FrameSource:
    """Return priced sales as the source of a fit."""
    return FrameSource(frame.sort("record_id"))


def fitted_plainly(frame: pl.DataFrame, name: str = "drawn", market: Market | None = None) -> FittedMarket:
    """Return the market fitted to priced sales, without the rolling origins of a calibration.

    `market` is the market file to fit by; left out, the demo's.
    """
    market = market or scenario_market()
    whole = fit_at_origins(source_of(frame), market, ()).whole
    return FittedMarket(
        fit=whole.fit,
        scatter=whole.scatter,
        calibration=None,
        uncalibrated="The band is uncalibrated.",
        second_stage=UNUSED,
        fit_id=name,
        fitted_on=date(2026, 10, 1),
        currency=market.base_currency,
        records=frame.height,
        first_sale=date(2017, 10, 1),
        last_sale=date(2026, 9, 30),
        market_digest=name,
        records_digest=name,
        version="test",
    )


def with_trees(fitted: FittedMarket, frame: pl.DataFrame) -> FittedMarket:
    """Return a fit with a second stage, grown on what it leaves of priced sales."""
    at = AtOrigin(fitted.fit, fitted.scatter)
    trees = learn_from_all(at, frame, fit_settings(scenario_market()), 0.5)
    stage = SecondStage(True, 0.6, 0.01, 0.001, 0.05, 0.5)
    return replace(fitted, second_stage=stage, trees=trees)


def fitted_to(frame: pl.DataFrame) -> FittedMarket:
    """Return the market fitted to priced sales."""
    return fit_market(
        source_of(frame),
        scenario_market(),
        records_digest="drawn",
        version="test",
        fitted_on=date(2026, 10, 1),
    )


@cache
def fitted(count: int = 1500, seed: int = 11) -> FittedMarket:
    """Return the market fitted to so many drawn sales."""
    return fitted_to(sales(count, seed))
