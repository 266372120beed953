"""A back-test of the bidding rule: past lots bid on with only what was known, and the result.

At each origin the market is fitted to earlier sales alone, and each auction lot up to the next origin is
valued with that fit. The rule's bid wins where it reaches one increment above the lot's hammer price,
and that is paid. The value of a won pair is judged in hindsight: by the fit to all sales, adjusted by the part of
the lot's own residual that pairs keep from one sale to the next.

The winner's curse: a lot is won where others bid little, and their bids carry information. Of the gap between
hammer price and value (both all-in, log), the share v / (v + s²) is expected to be our own error, v being the
variance of the estimate and s² that of single sales; the forecast of a won lot allows for that share.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.lots.answer import Terms
from pipeline.answers.lots.landed import landing
from pipeline.answers.lots.resale import net_curve
from pipeline.answers.outcomes.profit import receipts_of
from pipeline.config import Market
from pipeline.errors import FitError
from pipeline.fees.amounts import POINTS
from pipeline.fees.bids import next_bids
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.predict import design_rows, predict
from pipeline.hedonic.rolling import MOST_SINGLE, AtOrigin, choose_origins, learn_from_all
from pipeline.hedonic.second_stage import Trees
from pipeline.hedonic.threads import one_blas_thread
from pipeline.hedonic.trend import with_trend
from pipeline.market.fit import fit_at_origins
from pipeline.market.fitted_market import FittedMarket, Source
from pipeline.market.price_distribution import PriceDistribution, price_distribution
from pipeline.market.settings import FEWEST_BEFORE, MOST_ORIGINS, STEP_MONTHS, fit_settings

Array = NDArray[np.float64]

FEWEST_PAIRS = 30
"""With fewer pairs sold twice than this, a pair is assumed to keep none of its residual."""

Z_80 = 1.2816
"""The normal quantile of the central 80 % range."""

LOTS: dict[str, pl.DataType] = {
    "record_id": pl.String(),
    "title": pl.String(),
    "venue": pl.String(),
    "sold_on": pl.Date(),
    "knocked_down": pl.Float64(),
    "walk_away": pl.Float64(),
    "paid": pl.Float64(),
    "landed": pl.Float64(),
    "forecast": pl.Float64(),
    "cursed_forecast": pl.Float64(),
    "realised": pl.Float64(),
    "earned": pl.Float64(),
}
"""The columns of won lots: knocked_down, walk_away and paid in the venue's currency, the rest in the base currency;
forecast is the expected gain by the value alone, cursed_forecast allows for the winner's curse; earned is the gain by
the next sale of the pair, null where there is none."""


@dataclass(frozen=True)
class Backtest:
    """What the rule would have done with past lots.

    `lots` were judged, `won` (columns of LOTS) bought. Gains are means of the won lots, in `currency`: `forecast`
    allows for the curse, `hoped` does not; `realised` is the result, and `low` to `high` the 80 % range of
    the forecast: the errors of the fits of those days, shared by the lots as they share attributes.
    `kept` is the share of a residual that a pair keeps from sale to sale; `pairs` are the pairs sold twice behind it.
    `source` is that of the fit to all sales, by which hindsight judges.
    """

    currency: str
    terms: Terms
    first: date | None
    last: date | None
    lots: int
    won: pl.DataFrame
    hoped: float
    forecast: float
    realised: float
    low: float
    high: float
    losses: int
    kept: float
    pairs: int
    failed: tuple[str, ...]
    source: Source


def backtest_lots(
    sales: pl.DataFrame,
    lots: pl.DataFrame,
    twice: pl.DataFrame,
    fitted: FittedMarket,
    market: Market,
    terms: Terms,
    *,
    on_progress: Callable[[int, int], None] | None = None,
) -> Backtest:
    """Bid on past auction lots by the rule, and return the result.

    `sales` are the priced sales up to a day; `lots` those of them knocked down at an auction, with hammer (Decimal,
    the venue's currency) and rates beside the same columns (sql/marts/past_lots.sql). `twice` holds record_id and
    other_id of pairs sold twice, the earlier first. `fitted` is the fit to all sales, for hindsight.
    """
    with one_blas_thread():
        return _backtest(sales, lots, twice, fitted, market, terms, on_progress)


def with_next_sales(tested: Backtest, again: pl.DataFrame, market: Market) -> Backtest:
    """Return a back-test with what was earned on the won lots whose pair was sold again later.

    `again` has the next sale of each pair (sql/outcomes/sold_again.sql); its net is taken wherever that was.
    """
    nets = receipts_of(again, market).select(net=pl.col("net").cast(pl.Float64))
    later = pl.concat([again.select(record_id="first_id", again_on="sold_on"), nets], how="horizontal")
    earned = pl.col("net") - tested.terms.costs - pl.col("landed")
    won = tested.won.join(later, on="record_id", how="left", maintain_order="left").with_columns(
        earned=pl.when(pl.col("again_on") > pl.col("sold_on")).then(earned)
    )
    return replace(tested, won=won.select(*LOTS))


def kept_share(fitted: FittedMarket, sales: pl.DataFrame, twice: pl.DataFrame) -> tuple[float, int]:
    """Return (share of a residual that a pair keeps from sale to sale, pairs behind it); zero with too few.

    The slope of the later residual on the earlier, each clipped to three scales; between 0 and 1.
    """
    left = sales.select(
        "record_id",
        residual=pl.Series(
            np.clip(
                sales["log_price"].to_numpy() - predict(fitted.fit, sales)["log_price"].to_numpy(),
                -3 * fitted.fit.residual_scale,
                3 * fitted.fit.residual_scale,
            )
        ),
    )
    both = twice.join(left, on="record_id").join(
        left, left_on="other_id", right_on="record_id", suffix="_later"
    )
    if both.height < FEWEST_PAIRS:
        return 0.0, both.height
    earlier, later = both["residual"].to_numpy(), both["residual_later"].to_numpy()
    return float(np.clip(earlier @ later / (earlier @ earlier), 0, 1)), both.height


def _backtest(
    sales: pl.DataFrame,
    lots: pl.DataFrame,
    twice: pl.DataFrame,
    fitted: FittedMarket,
    market: Market,
    terms: Terms,
    on_progress: Callable[[int, int], None] | None,
) -> Backtest:
    kept, pairs = kept_share(fitted, sales, twice)
    origins = choose_origins(sales["month"], step=STEP_MONTHS, most=MOST_ORIGINS, fewest=FEWEST_BEFORE)
    ends = [*origins[1:], int(str(sales["month"].max())) + 1] if origins else []
    parts: list[pl.DataFrame] = []
    failed: list[str] = []
    judged, error = 0, 0.0
    days: list[date] = []
    past_fits: tuple[AtOrigin | FitError, ...] = ()
    if origins:
        known_sales = FrameSource(sales.sort("record_id"))
        past_fits = fit_at_origins(known_sales, market, origins, rounds=fitted.interactions.rounds).past
    for number, (origin, end, at) in enumerate(zip(origins, ends, past_fits, strict=True)):
        past = sales.filter(pl.col("month") < origin)
        upcoming = lots.filter(pl.col("month").is_between(origin, end - 1))
        if upcoming.height:
            if isinstance(at, FitError):
                failed.append(at.what)
            else:
                known = replace(
                    fitted,
                    fit=with_trend(at.fit, "month", fitted.trend)[0],
                    scatter=at.scatter,
                    calibration=None,
                    jackknife=None,
                    trees=_trees(at, past, market, fitted.second_stage.prices) if fitted.trees else None,
                    records=past.height,
                )
                won, shared = _bid(upcoming, known, fitted, market, terms, kept)
                parts.append(won)
                error += shared
                judged += upcoming.height
                days += [upcoming["sold_on"].min(), upcoming["sold_on"].max()]  # type: ignore[list-item]
        if on_progress is not None:
            on_progress(number + 1, len(origins))
    won = pl.concat(parts) if parts else pl.DataFrame(schema=LOTS)
    forecast, half = _mean(won["cursed_forecast"]), Z_80 * error / max(won.height, 1)
    return Backtest(
        currency=market.base_currency,
        terms=terms,
        first=min(days, default=None),
        last=max(days, default=None),
        lots=judged,
        won=won.sort("sold_on", "record_id"),
        hoped=_mean(won["forecast"]),
        forecast=forecast,
        realised=_mean(won["realised"]),
        low=forecast - half,
        high=forecast + half,
        losses=int((won["realised"] < 0).sum()),
        kept=kept,
        pairs=pairs,
        failed=tuple(failed),
        source=fitted.source,
    )


def _trees(at: AtOrigin, past: pl.DataFrame, market: Market, weight: float) -> Trees:
    """Return the trees of the second stage, grown on what was known at an origin."""
    return learn_from_all(at, FrameSource(past).sample(MOST_SINGLE), fit_settings(market), weight)


def _bid(
    lots: pl.DataFrame,
    known: FittedMarket,
    whole: FittedMarket,
    market: Market,
    terms: Terms,
    kept: float,
) -> tuple[pl.DataFrame, float]:
    """Return the lots (columns of LOTS) that the rule would have won with what was known, and their common error.

    The error is the standard error of the sum of their forecasts (base currency): shared errors count in full.
    """
    elsewhere = lots if terms.sells_at is None else lots.with_columns(venue=pl.lit(terms.sells_at))
    here, there = price_distribution(known, lots), price_distribution(known, elsewhere)
    own, resold = predict(whole.fit, lots)["log_price"].to_numpy(), price_distribution(whole, elsewhere)
    fetched = lots["log_price"].to_numpy()
    judged = replace(
        resold,
        centre=resold.centre + kept * (fetched - own),
        variance=np.zeros(lots.height),
        calibration=None,
        jackknife=None,
        scores={},
    )
    ours = _own_error(here, fetched)
    met = _after_winning(there, fetched - here.centre, ours, kept)
    cautious = np.exp(there.quantile(1 - terms.confidence))
    houses = lots.with_row_index("at").group_by("venue", "sold_on", maintain_order=True)
    found = [
        _won_on(
            members,
            market,
            terms,
            cautious,
            tuple(one.rows(members["at"].to_numpy()) for one in (there, met, judged)),
        )
        for _, members in houses
    ]
    won = pl.concat(found)
    rows = won["at"].to_numpy()
    values = np.exp(met.centre[rows]) * (1 - ours[rows])
    return won.select(*LOTS), _common_error(known.fit, elsewhere[rows], there.variance[rows], values)


def _common_error(fitted: Fit, factors: pl.DataFrame, variance: Array, values: Array) -> float:
    """Return the standard error of the sum of `values`, whose logs have these variances.

    Variance that the coefficients do not carry (the market since the last month, levels never seen) is taken as
    shared.
    """
    rows = design_rows(fitted, factors)
    spread = fitted.covariance.row_variances(rows)
    uncarried = float(np.sum(values * np.sqrt(np.maximum(variance - spread, 0))))
    total = rows.T @ values
    return float(np.sqrt(total @ (fitted.covariance @ total) + uncarried**2))


def _won_on(
    lots: pl.DataFrame, market: Market, terms: Terms, cautious: Array, seen: tuple[PriceDistribution, ...]
) -> pl.DataFrame:
    """Return the lots of one venue and day that the rule wins; `seen` are before, after winning, and in hindsight."""
    venue, day = market.venue(lots["venue"][0]), lots["sold_on"][0]
    landed = landing(venue, market, rate=lots["rate"][0], on=day)
    minor = 10.0**landed.base_digits
    resale = market.venue(terms.sells_at) if terms.sells_at else venue
    curve = net_curve(resale, market, rate=float(lots["resale_rate"][0]), on=day)
    limit = (1 - terms.margin) * (curve.net(cautious[lots["at"].to_numpy()]) - terms.costs)
    walk_away = landed.greatest_bid(np.floor(np.maximum(limit, 0) * minor).astype(np.int64))
    hammers = lots["hammer"].cast(pl.Decimal(18, POINTS)).to_physical().cast(pl.Int64).to_numpy()
    paid = next_bids(hammers, landed.increments)
    cost = landed.cost(paid) / minor
    hoped, met, judged = (one.expect(curve.net) - terms.costs - cost for one in seen)
    return (
        lots.select("at", "record_id", "title", "venue", "sold_on")
        .with_columns(
            knocked_down=pl.Series(hammers / 10.0**POINTS),
            walk_away=pl.Series(walk_away / 10.0**POINTS),
            paid=pl.Series(paid / 10.0**POINTS),
            landed=pl.Series(cost),
            forecast=pl.Series(hoped),
            cursed_forecast=pl.Series(met),
            realised=pl.Series(judged),
            earned=pl.lit(None, pl.Float64),
        )
        .filter(pl.Series(paid <= walk_away))
    )


def _own_error(here: PriceDistribution, fetched: Array) -> Array:
    """Return the share of the gap between the prices of lots and our values that is expected to be our own error.

    k = v / (v + s² / w), w the weight that a Student-t residual of that size has.
    """
    gap = fetched - here.centre
    weight = (
        1.0
        if np.isinf(here.degrees_of_freedom)
        else (here.degrees_of_freedom + 1) / (here.degrees_of_freedom + (gap / here.scale) ** 2)
    )
    share: Array = here.variance / (here.variance + here.scale**2 / weight)
    return share


def _after_winning(there: PriceDistribution, gap: Array, ours: Array, kept: float) -> PriceDistribution:
    """Return the prices of lots once theirs are known; of the gap that is not our error, `kept` stays."""
    return replace(
        there, centre=there.centre + gap * (ours + (1 - ours) * kept), variance=there.variance * (1 - ours)
    )


def _mean(values: pl.Series) -> float:
    return float(values.to_numpy().mean()) if len(values) else 0.0
