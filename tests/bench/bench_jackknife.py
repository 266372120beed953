"""What do left-out errors do to the bands of markets too small to calibrate? Forty drawn ones of fifty sales.

Each is a sample of the first 90 months of a market of bench_thin_bands.py, and prices what sold in the last six. The
columns are those of bench_layers.py.

Run: OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_jackknife
"""

import time
from dataclasses import replace

import numpy as np
import polars as pl

from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.jackknife import jackknife_calibration, jackknife_scores
from pipeline.hedonic.predict import predict
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.rolling import fit_origins
from pipeline.hedonic.specification import Specification
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.bands import band_errors, scores_at
from tests.bench import bench_thin_bands as thin
from tests.bench.bench_layers import heading, told
from tests.bench.bench_open_sales import LEVEL, Array

MARKETS, SALES, MONTHS = 40, 50, 6


def price(seed: int) -> Array:
    """Return (error, low and high with the jackknife, low and high without), in log price, a column a sale."""
    terms = (replace(term, kind="pooled") if term.kind in ("level", "flags") else term for term in thin.TERMS)
    specification = Specification("log_price", tuple(terms))
    whole, recent = thin.draw_market(seed), pl.col("month") >= thin.MONTHS - MONTHS
    known, later = whole.filter(~recent).sample(SALES, seed=seed), whole.filter(recent)
    settings = replace(thin.fit_settings(), specify=lambda known: specification)
    at = fit_origins(FrameSource(known), settings, ()).whole
    left, degrees = residuals(at.fit, known), at.fit.degrees_of_freedom
    scores = jackknife_scores(at.fit, left, at.scale(known, left["fitted"].to_numpy()))
    priced = predict(at.fit, later)
    value, variance = priced["log_price"].to_numpy(), priced["estimation_variance"].to_numpy()
    columns = [later["log_price"].to_numpy() - value]
    for jackknife in (jackknife_calibration(scores, degrees), None):
        limits = scores_at(LEVEL, [""] * later.height, None, jackknife, degrees)
        columns += band_errors(LEVEL, limits, variance, at.scale(later, value), degrees)
    return np.stack(columns)


def main() -> None:
    """Print a line with the jackknife and one without."""
    began = time.perf_counter()
    with one_blas_thread():
        error, *ends = np.concatenate([price(seed) for seed in range(MARKETS)], axis=1)
    heading("fifty sales")
    for name, band in (("(all layers)", ends[:2]), ("jackknife", ends[2:])):
        sales = np.stack([error, *band, 0 * error])
        told(name, sales, sales, time.perf_counter() - began)


if __name__ == "__main__":
    main()
