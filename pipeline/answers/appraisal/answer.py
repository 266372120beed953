"""Value one pair: from the fitted market to an appraisal."""

from datetime import date
from math import exp

import polars as pl

from pipeline.answers.appraisal.appraisal import Appraisal, Step
from pipeline.answers.appraisal.cautions import cautions, knows_silhouette, weak_ones
from pipeline.answers.appraisal.comparables import nearest_sales
from pipeline.answers.appraisal.waterfall import describe_start, start_price, waterfall
from pipeline.config import Market
from pipeline.market.attributes import TITLES
from pipeline.market.bands import LEVELS, Band, Values, parts_of_correction, value_pairs
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair

TOGETHER_STEP = ("together", "beyond each attribute alone")
"""The attribute and the value of the second stage's step."""


def appraise(
    pair: Pair,
    fitted: FittedMarket,
    market: Market,
    sales: pl.DataFrame,
    *,
    as_of: date,
    stale: str = "",
) -> Appraisal:
    """Return the appraisal of a pair at a day.

    `sales` are the priced sales of its silhouette (columns of sql/marts/priced_sales.sql); those after `as_of`
    are not used. The comparables are taken from them. The median is that of the price, not its mean, so no
    retransformation factor is applied. The band is predictive, for one sale: the error of the estimates, the
    scatter of single sales like it, and what the market may have done since the last month; calibrated on past
    sales that came after a fit, where the records allow. `stale` is a sentence of caution where the fit is older
    than the records.
    """
    factors = pair_factors((pair,), as_of=as_of)
    until = sales.filter(pl.col("sold_on") <= as_of)
    valued = value_pairs(fitted, factors, LEVELS)
    row = valued.predictions.row(0, named=True)
    steps = waterfall(fitted.fit, factors, valued.by_term)
    if fitted.second_stage.used:
        steps = (*steps, _together_step(fitted, valued))
    warned = cautions(
        pair,
        fitted,
        market,
        as_of=as_of,
        unseen=row["unseen"],
        extrapolated=row["extrapolated"],
        own_sales=until.height,
        stale=stale,
    )
    return Appraisal(
        pair=pair,
        as_of=as_of,
        currency=fitted.currency,
        median=exp(row["log_price"] + valued.correction[0]),
        bands=tuple(
            Band(level, exp(low), exp(high))
            for level, low, high in valued.bands.select("level", "low", "high").iter_rows()
        ),
        start=describe_start(fitted.fit),
        start_price=start_price(fitted.fit),
        steps=steps,
        comparables=nearest_sales(fitted.fit, factors, valued.by_term, until),
        in_support=knows_silhouette(fitted.fit, row["unseen"], own_sales=until.height),
        cautions=tuple(caution.words for caution in warned),
        source=fitted.source,
        weak=weak_ones(warned),
    )


def _together_step(fitted: FittedMarket, valued: Values) -> Step:
    """Return the step by which the second stage moves the value, with its part by attribute."""
    correction = float(valued.correction[0])
    parts = parts_of_correction(fitted, valued.by_term)
    return Step(
        *TOGETHER_STEP,
        exp(correction),
        exp(valued.predictions["log_price"][0] + correction),
        float(valued.correction_error[0]),
        fitted.records,
        tuple((TITLES.get(attribute, attribute), exp(part)) for attribute, part in parts),
    )
