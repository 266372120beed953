"""Fit the market to priced sales, with its scatter and its bands calibrated on later sales."""

import hashlib
from collections.abc import Callable
from datetime import date

import polars as pl

from pipeline.config import Market
from pipeline.errors import FitError
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.jackknife import jackknife_calibration, jackknife_scores
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.rolling import fit_by
from pipeline.hedonic.scales import scales
from pipeline.hedonic.scatter import fit_scatter
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.bands import LEVELS
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import specification
from pipeline.market.settings import evaluate_bands, fit_settings
from pipeline.rests_on import market_digest

FEWEST_SALES = 8
"""Fewer sales than this carry no model at all; a band from them would be a guess."""


def fit_market(
    sales: pl.DataFrame,
    market: Market,
    *,
    records_digest: str,
    version: str,
    fitted_on: date,
    on_progress: Callable[[int, int], None] | None = None,
) -> FittedMarket:
    """Fit the market to priced sales (columns of sql/marts/priced_sales.sql, in any order).

    The bands are calibrated on rolling origins; `on_progress` gets (origins done, of how many).

    Raises FitError where there are too few sales.
    """
    if sales.height < FEWEST_SALES:
        raise FitError(
            f"the ledger holds {sales.height} sales that can be priced; a fit needs {FEWEST_SALES} at least",
            "ingest more exports, or see `pairband quarantine` for rows that could not be read.",
        )
    ordered = sales.sort("record_id")
    with one_blas_thread():
        settings = fit_settings(market, specification(market, ordered))
        estimated = fit_by(settings, ordered)
        left = residuals(estimated, ordered)
        scatter = fit_scatter(estimated, ordered, left, settings.scatter)
        evaluation = evaluate_bands(ordered, settings, on_progress=on_progress)
        jackknife = None
        if evaluation.calibration is None:
            scores = jackknife_scores(estimated, left, scales(scatter, ordered, left["fitted"]))
            jackknife = jackknife_calibration(scores, estimated.degrees_of_freedom)
    digest = market_digest(market)
    identity = "|".join((records_digest, digest, version))
    first, last = ordered["sold_on"].min(), ordered["sold_on"].max()
    if not isinstance(first, date) or not isinstance(last, date):
        raise FitError("the sales have no days of sale", "map the column of the day of sale (`closed_on`).")
    return FittedMarket(
        fit=estimated,
        scatter=scatter,
        calibration=evaluation.calibration and evaluation.calibration.settle(LEVELS),
        uncalibrated=evaluation.why_not,
        second_stage=evaluation.second_stage,
        fit_id=hashlib.sha256(identity.encode()).hexdigest()[:10],
        fitted_on=fitted_on,
        currency=market.base_currency,
        records=ordered.height,
        first_sale=first,
        last_sale=last,
        market_digest=digest,
        records_digest=records_digest,
        version=version,
        jackknife=jackknife,
    )


def fit_prices(sales: pl.DataFrame, market: Market) -> Fit:
    """Fit prices alone, as `fit_market` does, without the scatter of single sales and the calibration of bands."""
    ordered = sales.sort("record_id")
    with one_blas_thread():
        return fit_by(fit_settings(market, specification(market, ordered)), ordered)
