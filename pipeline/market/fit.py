"""Fit the market to priced sales, with its scatter and its bands calibrated on later sales."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from pipeline.config import Market
from pipeline.errors import FitError
from pipeline.hedonic.coding import KnownLevels
from pipeline.hedonic.fit import fit_together
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.jackknife import jackknife_calibration, jackknife_scores
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.rolling import Origins, fit_with_interactions
from pipeline.hedonic.source import ONE_STAGE, Source
from pipeline.hedonic.specification import Term
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.bands import LEVELS
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.priced_before import priced_before
from pipeline.market.settings import evaluate_bands, fit_settings
from pipeline.rests_on import market_digest

FEWEST_SALES = 8
"""Fewer sales than this carry no model at all; a band from them would be a guess."""


def fit_market(
    sales: Source,
    market: Market,
    *,
    records_digest: str,
    version: str,
    fitted_on: date,
    fewest: int = FEWEST_SALES,
    on_progress: Callable[[int, int], None] | None = None,
) -> FittedMarket:
    """Fit the market to priced sales (columns of sql/marts/priced_sales.sql, in the order of their record_id).

    The bands are calibrated on rolling origins; `on_progress` gets (origins done, of how many).

    Raises FitError where there are fewer sales than `fewest`.
    """
    known = KnownLevels(sales, ONE_STAGE, 0)
    if known.height < fewest:
        raise FitError(
            f"the ledger holds {known.height} sales that can be priced; a fit needs {fewest} at least",
            "ingest more exports, or see `pairband quarantine` for rows that could not be read.",
        )
    first, last = known["sold_on"].min(), known["sold_on"].max()
    if not isinstance(first, date) or not isinstance(last, date):
        raise FitError("the sales have no days of sale", "map the column of the day of sale (`closed_on`).")
    with one_blas_thread():
        evaluation = evaluate_bands(sales, fit_settings(market), on_progress=on_progress)
        at = evaluation.rolled.whole
        jackknife = None
        if evaluation.calibration is None:
            singles = evaluation.rolled.singles
            left = residuals(at.fit, singles)
            scores = jackknife_scores(at.fit, left, at.scale(singles, left["fitted"].to_numpy()))
            jackknife = jackknife_calibration(scores, at.fit.degrees_of_freedom)
    digest = market_digest(market)
    identity = "|".join((records_digest, digest, version))
    return FittedMarket(
        fit=at.fit,
        scatter=at.scatter,
        calibration=evaluation.calibration and evaluation.calibration.settle(LEVELS),
        uncalibrated=evaluation.why_not,
        second_stage=evaluation.second_stage,
        trees=evaluation.trees,
        trend=evaluation.trend,
        fit_id=hashlib.sha256(identity.encode()).hexdigest()[:10],
        fitted_on=fitted_on,
        currency=market.base_currency,
        records=known.height,
        first_sale=first,
        last_sale=last,
        market_digest=digest,
        records_digest=records_digest,
        version=version,
        jackknife=jackknife,
        interactions=evaluation.interactions,
        origins=len(evaluation.rolled.origins),
        failed_origins=evaluation.rolled.failed,
        priced_before=priced_before(evaluation.rolled, evaluation.correction),
    )


def fit_at_origins(sales: Source, market: Market, origins: Sequence[int], *, rounds: int = 0) -> Origins:
    """Fit prices and their scatter, of the whole and of what was known at each origin, without calibrating bands.

    Each fit has the interactions that its own records call for, in so many rounds.
    """
    with one_blas_thread():
        return fit_with_interactions(sales, fit_settings(market), origins, rounds)


def fit_prices(sales: Source, market: Market, found: tuple[Term, ...] = ()) -> Fit:
    """Fit prices alone, as `fit_market` does, with the interactions that were found.

    The scatter of single sales and the calibration of bands are left out.
    """
    with one_blas_thread():
        return fit_together(sales, replace(fit_settings(market), added=(found,)), ONE_STAGE).whole.fit
