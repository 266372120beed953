"""Pairs and fits on which the pricing page is held against the Python: drawn pairs, each kind of band."""

from dataclasses import asdict, replace
from datetime import date
from functools import cache
from typing import Any

import numpy as np
import polars as pl

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.config import Model, PairsOfFactors
from pipeline.hedonic.calibration import Calibration
from pipeline.hedonic.jackknife import jackknife_calibration
from pipeline.hedonic.trend import Shape, TrendStage, find_trend
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.pair import Pair
from reports.pricing.page import OTHER, pricing_page
from sample_data import scenario
from tests.drawn import fitted_plainly, sales, with_trees

VALUED_ON = date(2026, 10, 1)

RATES = {"EUR": 1.0, "GBP": 0.87, "JPY": 170.0}
KINDS = ("calibrated", "second stage", "gaussian", "pairs of attributes", "trend")
PAIRS = (
    ("era", "box"),
    ("defects", "venue"),
    ("silhouette", "box"),
    ("treatments", "silhouette"),
    ("size_mm", "era"),
)


@cache
def some_sales() -> pl.DataFrame:
    """Return sales drawn from the demo's truth, the latest first, of which not everything is known."""
    ordered = sales(1200, seed=11).sort("sold_on", "record_id", descending=[True, False])
    return ordered.with_columns(
        *(
            pl.when(pl.int_range(pl.len()) % apart == 0).then(None).otherwise(pl.col(name)).alias(name)
            for name, apart in (("colourway", 19), ("era", 7), ("grade", 11), ("size_mm", 13), ("defects", 5))
        ),
        pl.when(pl.int_range(pl.len()) % 4 == 0).then(pl.lit("unknown")).otherwise("tags").alias("tags"),
    )


@cache
def _fitted() -> FittedMarket:
    return fitted_plainly(some_sales())


@cache
def _fitted_with_pairs() -> FittedMarket:
    model = Model(interactions=PairsOfFactors(always=PAIRS))
    return fitted_plainly(some_sales(), market=scenario.market().model_copy(update={"model": model}))


@cache
def market_fitted(kind: str) -> FittedMarket:
    """Return a fit with calibrated bands; the second stage and left-out errors; Gaussian; with PAIRS; or a trend."""
    if kind == "pairs of attributes":
        return replace(_fitted_with_pairs(), calibration=_calibration(), uncalibrated="")
    fitted = _fitted()
    if kind == "trend":
        trend = find_trend(fitted.fit, "month", Shape(12, 0.8))
        stage = TrendStage(True, 12, 0.8, 0.01, 0.001, 0.9, 0.1)
        return replace(fitted, fit=replace(fitted.fit, trend=trend), trend=stage)
    if kind == "calibrated":
        return replace(fitted, calibration=_calibration(), uncalibrated="")
    left_out = jackknife_calibration(_scores(200) * 1.3, fitted.fit.degrees_of_freedom)
    if kind == "second stage":
        return with_trees(replace(fitted, jackknife=left_out), some_sales())
    return replace(fitted, fit=replace(fitted.fit, robust=None))


def _scores(count: int) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.random.default_rng(7).standard_t(5, count)


def _calibration() -> Calibration:
    names = tuple(sorted(era.name for era in scenario.market().eras))
    draw = np.random.default_rng(8)
    groups = draw.integers(-1, len(names), 900)
    wide = np.where(groups == 0, 1.8, 1.0)
    return Calibration(_scores(900) * wide, np.repeat(np.arange(12), 75), groups, names, 5.0)


@cache
def drawn_pairs(count: int, seed: int) -> tuple[Pair, ...]:
    """Return pairs of every sort: unheard-of names, sizes and grades beyond those sold, nothing known."""
    draw = np.random.default_rng(seed)
    market = scenario.market()

    def one(values: list[Any]) -> Any:
        return [None, *values][draw.integers(len(values) + 1)]

    def several(names: list[str]) -> tuple[str, ...] | None:
        if draw.random() < 0.3:
            return None
        return tuple(sorted(draw.choice(names, size=draw.integers(0, 3), replace=False).tolist()))

    def pair() -> Pair:
        known = market.silhouettes[draw.integers(len(market.silhouettes))]
        colourways = [colourway.name for colourway in known.colourways]
        return Pair(
            silhouette=OTHER if draw.random() < 0.15 else known.name,
            colourway=one([*colourways, *colourways, "Never Heard"]),
            era=one([era.name for era in market.eras]),
            foot_mm=one([205, 241, 262, 270, 275, 288, 335]),
            grade=one([1.0, 2.5, 5.5, 7.0, 8.5, 10.0]),
            box=one(["original", "replacement", "none"]),
            tags=one(["attached", "loose", "none"]),
            overlay=one(["leather", "vinyl", "textile"]),
            parts=several([part.name for part in market.parts]),
            defects=several([defect.name for defect in market.defects]),
            treatments=several([treatment.name for treatment in market.treatments]),
            venue=one([venue.name for venue in market.venues]),
        )

    return tuple(pair() for _ in range(count))


def pairs_of(kind: str) -> tuple[Pair, ...]:
    """Return the pairs on which a kind of fit is tried."""
    return drawn_pairs(30 if kind == "calibrated" else 8, seed=KINDS.index(kind))


@cache
def appraised(pair: Pair, kind: str = "calibrated") -> Appraisal:
    """Return what the Python makes of a pair."""
    own = some_sales().filter(pl.col("silhouette") == pair.silhouette)
    return appraise(pair, market_fitted(kind), scenario.market(), own, as_of=VALUED_ON)


@cache
def page_of(kind: str = "calibrated") -> str:
    """Return the pricing page of a kind of fit."""
    return pricing_page(market_fitted(kind), scenario.market(), some_sales(), as_of=VALUED_ON, rates=RATES)


def as_document(pair: Pair) -> dict[str, Any]:
    """Return a pair as the page's arithmetic takes it."""
    return asdict(pair)
