"""Draw offers, sold and unsold: the terms on which each pair is offered and how the offer ends.

The terms are drawn so that what was *sold* has exactly the true residuals: terms that sell with chance
p are offered 1/p times as often (rejection sampling), and then sold with chance p.
"""

import math

import numpy as np
import polars as pl

from sample_data import scenario, truth
from sample_data.generator import draw_unpriced
from sample_data.pairs import Draws, FlagArray, RealArray
from sample_data.prices import draw_residuals, true_log_prices

_LAST_DAY = pl.lit(scenario.LAST_DAY)

_HIGHEST_GAP = 0.35
"""No house takes a lot in whose low estimate lies further above its fair value (in log)."""

_LEAST_LOT_CHANCE = 1 / (1 + math.exp(-(truth.AUCTIONS.at_fair + truth.AUCTIONS.slope * _HIGHEST_GAP)))

_LEAST_LISTING_CHANCE = 0.08
"""Listings whose ask is so high that they sell less often are offered as if they sold so often."""


def draw_offers(n: int, draws: Draws) -> pl.DataFrame:
    """Return `n` offers with the columns of `add_terms`."""
    return add_terms(draw_unpriced(n, draws).rename({"sold_on": "closed_on"}), draws)


def add_terms(
    pairs: pl.DataFrame, draws: Draws, *, sold_only: bool = False, below: pl.Series | None = None
) -> pl.DataFrame:
    """Return the pairs with the terms and the end of one offer each, closed on `closed_on`.

    Adds status, offered_on (null at an auction), gap (log of ask or low estimate over fair value),
    ask (in EUR: the asking price, or the low estimate of the hammer price) and price_paid (EUR, all-in;
    null unless sold). `sold_only` gives sold offers; `below` asks for a gap under the one given.
    """
    auction = pairs["venue"].is_in(list(scenario.AUCTION_WEEKDAY)).to_numpy()
    limit = (
        pairs["venue"].replace_strict(scenario.LISTING_DAYS, default=1, return_dtype=pl.Float64).to_numpy()
    )
    count = len(pairs)
    residual, gap, chance = np.zeros(count), np.zeros(count), np.ones(count)
    pending = np.arange(count)
    while len(pending):
        residual[pending] = draw_residuals(pairs["grade"][pending], draws)
        gap[pending] = _draw_gaps(auction[pending], residual[pending], draws)
        chance[pending] = _chances(auction[pending], gap[pending], limit[pending])
        kept = np.ones(len(pending), dtype=np.bool_)
        if not sold_only:
            least = np.where(auction[pending], _LEAST_LOT_CHANCE, _LEAST_LISTING_CHANCE)
            kept = draws.random(len(pending)) < least / chance[pending]
        if below is not None:
            kept &= gap[pending] < below.to_numpy()[pending]
        pending = pending[~kept]

    sold = np.ones(count, dtype=np.bool_) if sold_only else draws.random(count) < chance
    hazard = _hazards(gap)
    waited = np.where(sold, -np.log1p(-draws.random(count) * -np.expm1(-hazard * limit)) / hazard, limit)
    fair = true_log_prices(pairs, day="closed_on").to_numpy()
    return pairs.with_columns(
        pl.Series("status", np.where(sold, "sold", "unsold")),
        pl.Series("gap", gap),
        pl.Series("ask", np.exp(fair + gap)),
        pl.Series("price_paid", np.where(sold, np.exp(fair + residual), np.nan)).fill_nan(None),
        pl.Series("waited", np.where(auction, 0, np.clip(np.ceil(waited), 1, limit)).astype(np.int32)),
    ).with_columns(
        offered_on=pl.when(pl.Series(~auction)).then(pl.col("closed_on") - pl.duration(days="waited"))
    )


def draw_open_listings(n: int, draws: Draws) -> pl.DataFrame:
    """Return `n` fixed-price listings that still stand on the last day, with the columns of `add_terms`.

    The longer a listing stands in all, the likelier it stands on a given day, at any age alike.
    """
    listings = draw_unpriced(25 * n, draws).filter(pl.col("venue").is_in(list(scenario.LISTING_DAYS)))
    offers = add_terms(listings.rename({"sold_on": "closed_on"}).with_columns(closed_on=_LAST_DAY), draws)
    limit = pl.col("venue").replace_strict(scenario.LISTING_DAYS, return_dtype=pl.Float64)
    age = (pl.Series(draws.random(len(offers))) * pl.col("waited")).floor().cast(pl.Int32)
    standing = pl.Series(draws.random(len(offers))) < pl.col("waited") / limit
    return (
        offers.with_columns(status=pl.lit("open"), offered_on=pl.col("closed_on") - pl.duration(days=age))
        .filter(standing)
        .with_columns(
            closed_on=pl.lit(None, dtype=pl.Date),
            price_paid=pl.lit(None, dtype=pl.Float64),
        )
        .head(n)
    )


def _draw_gaps(auction: FlagArray, residual: RealArray, draws: Draws) -> RealArray:
    """Return log(low estimate / fair value) of lots, log(ask / fair value) of listings."""
    lots, listings = truth.AUCTIONS, truth.LISTINGS
    estimates = lots.mean + lots.deviation * draws.standard_normal(len(auction))
    below_ask = draws.random(len(auction)) < listings.below_ask
    discount = listings.least + (listings.most - listings.least) * draws.random(len(auction))
    return np.where(auction, np.minimum(estimates, _HIGHEST_GAP), residual - below_ask * np.log1p(-discount))


def _chances(auction: FlagArray, gap: RealArray, limit: RealArray) -> RealArray:
    """Return the chance that an offer is sold before it ends."""
    listed = np.maximum(-np.expm1(-_hazards(gap) * limit), _LEAST_LISTING_CHANCE)
    return np.where(auction, _lot_chance(gap), listed)


def _lot_chance(gap: RealArray) -> RealArray:
    return np.asarray(1 / (1 + np.exp(-(truth.AUCTIONS.at_fair + truth.AUCTIONS.slope * gap))))


def _hazards(gap: RealArray) -> RealArray:
    """Return the daily hazard of a sale of listings."""
    return np.asarray(truth.LISTINGS.daily_at_fair * np.exp(truth.LISTINGS.slope * gap))
