"""Upcoming lots: value, cost if won now, maximum bid, expected gain, chance of loss, ranking."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.appraisal.cautions import Caution, weak_values
from pipeline.answers.appraisal.sentences import WEAKNESSES
from pipeline.answers.lots.landed import Landing, landing
from pipeline.answers.lots.resale import NetCurve, net_curve
from pipeline.config import Market, Venue
from pipeline.fees.amounts import POINTS
from pipeline.fees.bids import next_bids
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.era_mixture import EraChances, mix_eras
from pipeline.market.fitted_market import FittedMarket, Source
from pipeline.market.model import record_factors
from pipeline.market.price_distribution import PriceDistribution, price_distribution, price_distributions_at

Array = NDArray[np.float64]
Whole = NDArray[Any]

VERDICTS = (BID, LOOK, PASS, UNKNOWN_COST, CLOSED) = ("bid", "look first", "pass", "cost unknown", "closed")
"""The verdicts, in the order in which lots are ranked."""

FLAGS: tuple[str, ...] = (
    WEAKNESSES["few sales"],
    "label and era disagree",
    "suspiciously cheap",
    "read from the title only",
    "condition not known",
    "not all cells read",
    WEAKNESSES["era not known"],
    WEAKNESSES["extrapolated"],
)
LOOK_FIRST: tuple[str, ...] = FLAGS[:3]
"""The flags that call for a closer look before any bid."""

WEAK_FLAGS: tuple[str, ...] = (*FLAGS[:2], *FLAGS[-2:])
"""The flags that put the fair value itself in doubt."""

CHEAP = 0.025
"""A low estimate (or, where bids do not rise, a price) is suspiciously cheap if its all-in is below this quantile."""

FROM_TITLE: tuple[str, ...] = ("silhouette_origin", "era_origin")

SCHEMA: dict[str, pl.DataType] = {
    "rank": pl.Int64(),
    "verdict": pl.String(),
    "row_number": pl.Int64(),
    "venue": pl.String(),
    "sale_ref": pl.String(),
    "lot_ref": pl.String(),
    "title": pl.String(),
    "closes_on": pl.Date(),
    "closes_at": pl.String(),
    "silhouette": pl.String(),
    "colourway": pl.String(),
    "era": pl.String(),
    "grade": pl.Float64(),
    "native_currency": pl.String(),
    "present_bid": pl.Float64(),
    "present_all_in": pl.Float64(),
    "landed_cost": pl.Float64(),
    "median": pl.Float64(),
    "low_80": pl.Float64(),
    "high_80": pl.Float64(),
    "resale_net": pl.Float64(),
    "walk_away_bid": pl.Float64(),
    "walk_away_landed": pl.Float64(),
    "expected_gain": pl.Float64(),
    "chance_of_loss": pl.Float64(),
    "flags": pl.List(pl.String()),
    "why": pl.String(),
}
"""The columns of valued lots. Money is in the base currency, except present_bid, present_all_in and
walk_away_bid (the maximum bid), which are in native_currency; median, low_80 and high_80 are all-in prices at the
lot's own venue."""


@dataclass(frozen=True)
class Terms:
    """What the owner asks of a lot: a `margin` of what the resale nets, kept with the chance `confidence`.

    `sells_at` is where it would be sold again (None: where it was bought), `costs` what it costs in the
    shop on top, in the base currency.
    """

    margin: float
    confidence: float
    sells_at: str | None
    costs: float


@dataclass(frozen=True)
class LotList:
    """Valued lots, ranked: `lots` in the columns of SCHEMA, and what they rest on.

    `weak` are the cautions that put every value of the list in doubt.
    """

    as_of: date
    currency: str
    terms: Terms
    lots: pl.DataFrame
    cautions: tuple[str, ...]
    source: Source
    refused: tuple[str, ...] = field(default=())
    weak: tuple[Caution, ...] = field(default=())


def lot_factors(records: pl.DataFrame, *, as_of: date) -> pl.DataFrame:
    """Return the factors (columns of FACTORS) of records at their own venues, one row a record.

    `records` have the columns of a sale record. One without a silhouette is valued under its title, as a
    silhouette without sales.
    """
    named = pl.coalesce("silhouette", "title", pl.lit("(not named)"))
    return record_factors(records.with_columns(silhouette=named), as_of=as_of)


def value_lots(
    records: pl.DataFrame,
    fitted: FittedMarket,
    market: Market,
    sales: pl.DataFrame,
    rates: dict[str, float],
    terms: Terms,
    *,
    as_of: date,
    doubt: EraChances | None = None,
) -> pl.DataFrame:
    """Return the lots valued and ranked, in the columns of SCHEMA; those in `doubt` by the chances of their eras.

    `records` are lots in the columns of a sale record (`price_native` the present bid, `ask_native` the low
    estimate, closes_at where it is known), `sales` the priced sales, `rates` units of each currency for one of the
    base.

    The maximum bid is the highest valid bid step whose landed cost does not exceed
    (1 - margin) × what the resale nets at the (1 - confidence) quantile of its price, less `costs`. The
    expected gain is the mean of the resale's net less `costs` and the landed cost of the present bid.
    """
    with one_blas_thread():
        factors = lot_factors(records, as_of=as_of)
        if terms.sells_at is None:
            here = there = mix_eras(price_distribution(fitted, factors), doubt, fitted, factors)
        else:
            at_home = factors.with_columns(venue=pl.lit(terms.sells_at))
            here, there = (
                mix_eras(known, doubt, fitted, placed)
                for known, placed in zip(
                    price_distributions_at(fitted, factors, terms.sells_at),
                    (factors, at_home),
                    strict=True,
                )
            )
    bids = _points(records["price_native"])
    estimates = _points(records["ask_native"])
    money = _Money.of(records, there, bids, market, rates, terms, as_of)
    auctions = [venue.name for venue in market.venues if venue.kind == "auction"]
    still_rising = records["venue"].is_in(auctions).fill_null(value=False).to_numpy()
    stated = np.where(still_rising, 0.0, money.all_in_base)
    doubtful = np.where(estimates > 0, money.estimate_all_in, stated)
    weak = weak_values(
        factors.with_columns(records["era"]), fitted.fit, here.unseen, here.extrapolated, sales
    )
    cheap = (doubtful > 0) & (doubtful < np.exp(here.quantile(CHEAP)))
    valued = records.select(
        row_number="row_number",
        venue="venue",
        sale_ref="sale_ref",
        lot_ref="lot_ref",
        title="title",
        closes_on="closed_on",
        closes_at="closes_at" if "closes_at" in records.columns else pl.lit(None, dtype=pl.String),
        silhouette="silhouette",
        colourway="colourway",
        era="era",
        grade="grade",
        native_currency="currency",
        present_bid=pl.col("price_native").cast(pl.Float64),
    ).with_columns(
        present_all_in=_known(money.all_in / 10.0**POINTS),
        landed_cost=_known(money.landed),
        median=pl.Series(np.exp(here.centre)),
        low_80=pl.Series(np.exp(here.quantile(0.1))),
        high_80=pl.Series(np.exp(here.quantile(0.9))),
        resale_net=_known(money.net),
        walk_away_bid=_known(money.walk_away / 10.0**POINTS),
        walk_away_landed=_known(money.walk_away_landed),
        expected_gain=_known(money.gain),
        chance_of_loss=_known(money.loss),
        flags=_flags(records, weak, cheap),
        why=money.why,
    )
    return _ranked(valued, money.within, as_of)


@dataclass(frozen=True)
class _Money:
    """The money of lots, one entry a lot; NaN where it is unknown, and `why` says why."""

    all_in: Array
    all_in_base: Array
    estimate_all_in: Array
    landed: Array
    net: Array
    walk_away: Array
    walk_away_landed: Array
    gain: Array
    loss: Array
    within: NDArray[np.bool_]
    why: pl.Series

    @staticmethod
    def of(
        records: pl.DataFrame,
        there: PriceDistribution,
        bids: Whole,
        market: Market,
        rates: dict[str, float],
        terms: Terms,
        as_of: date,
    ) -> "_Money":
        """Return the money of lots, venue by venue and schedule by schedule."""
        count = records.height
        numbers = {name: np.full(count, np.nan) for name in _NUMBERS}
        within = np.zeros(count, dtype=bool)
        why = np.full(count, None, dtype=object)
        estimates = _points(records["ask_native"])
        cautious = np.exp(there.quantile(1 - terms.confidence))
        curves: dict[str, NetCurve] = {}
        for venue_name, currency, day, rows in _houses(records, market, as_of):
            fault = why_cost_unknown(market, venue_name, currency, day, rates)
            if fault:
                why[rows] = fault
                continue
            venue = market.venue(venue_name)
            resale = market.venue(terms.sells_at) if terms.sells_at else venue
            if resale.name not in curves:
                curves[resale.name] = net_curve(resale, market, rate=rates[resale.currency], on=as_of)
            landed = landing(venue, market, rate=rates[venue.currency], on=day)
            curve = curves[resale.name]
            limit = (1 - terms.margin) * (curve.net(cautious[rows]) - terms.costs)
            part = there.rows(rows)
            found = _money_of(landed, curve, part, bids[rows], estimates[rows], limit, terms.costs)
            within[rows] = least_bids(bids[rows], venue, landed) <= found["walk_away"]
            for name, values in found.items():
                numbers[name][rows] = values
        return _Money(**numbers, within=within, why=pl.Series(why.tolist(), dtype=pl.String))


_NUMBERS = (
    *("all_in", "all_in_base", "estimate_all_in", "landed", "net", "walk_away", "walk_away_landed"),
    *("gain", "loss"),
)


def _money_of(
    landed: Landing,
    curve: NetCurve,
    there: PriceDistribution,
    bids: Whole,
    estimates: Whole,
    limit: Array,
    costs: float,
) -> dict[str, Array]:
    """Return the money of the lots of one venue and fee schedule; `limit` is the highest landed cost of each."""
    minor = 10.0**landed.base_digits
    limits = np.floor(np.maximum(limit, 0) * minor).astype(np.int64)
    walk_away = landed.greatest_bid(limits)
    cost = np.where(bids > 0, landed.cost(bids) / minor, np.nan)
    net = there.expect(curve.net) - costs
    to_native = landed.rate * 10.0**POINTS
    break_even = np.log(np.maximum(curve.price_leaving(cost + costs), 1e-9))
    loss = np.where(bids > 0, there.chance_below(np.nan_to_num(break_even)), np.nan)
    all_in = landed.all_in(bids)
    return {
        "all_in": np.where(bids > 0, all_in, np.nan),
        "all_in_base": np.where(bids > 0, all_in / to_native, 0.0),
        "estimate_all_in": landed.all_in(estimates) / to_native,
        "landed": cost,
        "net": net,
        "walk_away": walk_away.astype(np.float64),
        "walk_away_landed": np.where(walk_away > 0, landed.cost(walk_away) / minor, np.nan),
        "gain": net - cost,
        "loss": loss,
    }


def least_bids(bids: Whole, venue: Venue, landed: Landing) -> Whole:
    """Return the least that buys each lot: at an auction the next bid, at a fixed price that price, if there is one."""
    rising = next_bids(bids, landed.increments)
    return rising if venue.kind == "auction" else np.where(bids > 0, bids, rising)


def _houses(
    records: pl.DataFrame, market: Market, as_of: date
) -> Iterator[tuple[str, str | None, date, NDArray[np.int64]]]:
    """Yield (venue, currency, a day, rows) for the lots of each venue, currency and buyer's fee schedule."""
    keyed = records.select("venue", "currency", day=pl.col("closed_on").fill_null(as_of)).with_row_index("at")
    days = keyed.select("venue", "day").unique(maintain_order=True)
    starts = [_starts_on(market, name, day) for name, day in days.iter_rows()]
    keyed = keyed.join(
        days.with_columns(pl.Series("starts_on", starts, dtype=pl.Date)),
        on=["venue", "day"],
        how="left",
        nulls_equal=True,
        maintain_order="left",
    )
    for (venue, currency, _), members in keyed.group_by(
        "venue", "currency", "starts_on", maintain_order=True
    ):
        yield (
            str(venue),
            None if currency is None else str(currency),
            members["day"][0],
            members["at"].cast(pl.Int64).to_numpy(),
        )


def _starts_on(market: Market, venue: str, day: date) -> date | None:
    """Return the day from which a venue's buyer's fee schedule of a day is in force."""
    known = market.venue_by_name.get(venue)
    schedule = known.schedule("buyer", day) if known else None
    return schedule.starts_on if schedule else None


def why_cost_unknown(
    market: Market, venue: str, currency: str | None, day: date, rates: Mapping[str, float]
) -> str:
    """Return why the cost of a bid is unknown for the lots of a venue, "" where it is known."""
    known = market.venue_by_name.get(venue)
    if known is None:
        return "the venue is not in the market file"
    if currency != known.currency:
        return f"the venue's fees are in {known.currency}, the bid is in {currency}"
    if known.currency not in rates:
        return f"no exchange rate of {known.currency} is known"
    has_fees = any(schedule.party == "buyer" for schedule in known.fees)
    if has_fees and known.schedule("buyer", day) is None:
        return f"the venue's first buyer's fee schedule starts after {day}"
    return ""


def _points(amounts: pl.Series) -> Whole:
    points: Whole = (
        amounts.cast(pl.Decimal(18, POINTS)).to_physical().cast(pl.Int64).fill_null(0).to_numpy().clip(min=0)
    )
    return points


def _known(values: Array) -> pl.Series:
    return pl.Series(np.asarray(values, dtype=np.float64)).fill_nan(None)


def _flags(records: pl.DataFrame, weak: pl.DataFrame, cheap: NDArray[np.bool_]) -> pl.Series:
    """Return the flags of each lot, in the order of FLAGS; `weak` as of `weak_values`."""
    marked = records.select(
        weak["few"],
        conflict=pl.col("flags").list.contains("era in conflict").fill_null(value=False),
        cheap=pl.Series(cheap),
        title=pl.all_horizontal(pl.col(name) == "title" for name in FROM_TITLE).fill_null(value=False),
        bare=pl.col("grade").is_null(),
        unread=pl.col("unread").list.len() > 0,
        undated=weak["undated"],
        outside=weak["outside"],
    )
    return marked.select(
        pl.concat_list(
            pl.when(pl.col(name)).then(pl.lit(flag)).otherwise(pl.lit(None, dtype=pl.String))
            for name, flag in zip(marked.columns, FLAGS, strict=True)
        ).list.drop_nulls()
    ).to_series()


def _ranked(valued: pl.DataFrame, within: NDArray[np.bool_], as_of: date) -> pl.DataFrame:
    """Return the lots in order of verdict, then of expected gain."""
    warned = pl.col("flags").list.set_intersection(list(LOOK_FIRST)).list.len() > 0
    verdict = (
        pl.when(pl.col("closes_on") < as_of)
        .then(pl.lit(CLOSED))
        .when(pl.col("why").is_not_null())
        .then(pl.lit(UNKNOWN_COST))
        .when(~pl.Series(within))
        .then(pl.lit(PASS))
        .when(warned)
        .then(pl.lit(LOOK))
        .otherwise(pl.lit(BID))
    )
    places = {verdict: place for place, verdict in enumerate(VERDICTS)}
    order = pl.col("verdict").replace_strict(places, return_dtype=pl.Int8)
    gain = pl.coalesce("expected_gain", "resale_net")
    return (
        valued.with_columns(verdict=verdict)
        .sort(order, gain, "row_number", descending=[False, True, False], nulls_last=True)
        .with_columns(rank=pl.int_range(1, pl.len() + 1, dtype=pl.Int64))
        .select(pl.col(name).cast(dtype) for name, dtype in SCHEMA.items())
    )
