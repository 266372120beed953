"""Fees over whole columns of prices: each row by the schedule of its venue and day, without a loop over rows."""

from collections.abc import Callable
from decimal import Decimal
from typing import Literal

import numpy as np
import polars as pl

from pipeline.config import FeeSchedule, Market, Venue
from pipeline.fees.amounts import POINTS
from pipeline.fees.inverse import NONE, Basis, hammers_behind
from pipeline.fees.schedule import CompiledSchedule, Whole, compile_schedule

Party = Literal["buyer", "seller"]

_AMOUNT = pl.Decimal(18, POINTS)
_TOO_LARGE = "the result is too large to be an amount"


def all_in_column(hammers: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Add the all-in price of each hammer price.

    `hammers` holds venue String, day Date, currency String, hammer Decimal(18, 4). Returns the same rows in
    the same order with all_in Decimal(18, 4) and why String: why the all-in is not known (a schedule
    that starts later, another currency than the venue's, a negative price). A venue without a buyer's
    schedule takes nothing from buyers. Equal to the price with its `fee_of` row by row.
    """
    charged = _with_fees(hammers, market, "buyer")
    points = pl.when(_is_free()).then("points").otherwise(pl.col("points") + pl.col("fee"))
    return _finished(charged, hammers, points, all_in=_to_amount(points))


def net_column(hammers: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Add what each hammer price leaves the seller.

    `hammers` as for `all_in_column`. Returns the same rows in the same order with net Decimal(18, 4) and why
    String: why the net is not known (a venue without a seller's schedule among the reasons). Equal to
    the price less its `fee_of` row by row.
    """
    charged = _with_fees(hammers, market, "seller")
    points = pl.col("points") - pl.col("fee")
    return _finished(charged, hammers, points, net=_to_amount(points))


def hammer_column(prices: pl.DataFrame, market: Market, *, basis: Basis) -> pl.DataFrame:
    """Add the hammer price behind each all-in price or net.

    `prices` holds venue String, day Date, currency String, price Decimal(18, 4). Returns the same rows in the
    same order with hammer Decimal(18, 4), exact Boolean (whether its all-in or net is the price, to the
    minor unit) and why String. Behind an all-in stands the price of `hammer_from_all_in`; behind a net the
    lowest price that leaves it, or else the lowest that leaves more. Where no hammer price would do, hammer
    is null and why says so.
    """
    party: Party = "buyer" if basis == "all-in" else "seller"

    def behind(points: Whole, fees: CompiledSchedule) -> tuple[Whole, Whole]:
        distinct, row = np.unique(points, return_inverse=True)
        hammers = hammers_behind(distinct, fees, basis)
        return hammers.best[row], (hammers.exact != NONE)[row]

    found = _computed(
        _with_schedules(prices, market, party, "price"), market, party, behind, ("found", "exact")
    )
    lost = (pl.col("found") == NONE).fill_null(value=False)
    why_lost = "the lowest fee alone exceeds this price" if party == "buyer" else _TOO_LARGE
    points = pl.when(_is_free()).then("points").when(~lost).then("found")
    exact = _is_free() | pl.col("exact").cast(pl.Boolean)
    return _finished(
        found.with_columns(why=pl.coalesce("why", pl.when(lost).then(pl.lit(why_lost)))),
        prices,
        points,
        hammer=_to_amount(points),
        exact=pl.when(points.is_not_null()).then(exact),
    )


def _is_free() -> pl.Expr:
    """Whether the venue takes nothing of the party."""
    return pl.col("why").is_null() & pl.col("schedule").is_null()


def _schedules(market: Market, party: Party) -> list[tuple[Venue, FeeSchedule]]:
    """Return every schedule of a party with its venue."""
    return [
        (venue, schedule) for venue in market.venues for schedule in venue.fees if schedule.party == party
    ]


def _with_schedules(prices: pl.DataFrame, market: Market, party: Party, amount: str) -> pl.DataFrame:
    """Return the prices with points (10**-POINTS), schedule (its number, null where none applies) and why."""
    schedules = pl.DataFrame(
        [
            (number, venue.name, schedule.starts_on)
            for number, (venue, schedule) in enumerate(_schedules(market, party))
        ],
        schema={"schedule": pl.Int64, "venue": pl.String, "day": pl.Date},
        orient="row",
    )
    venues = pl.DataFrame(
        [(venue.name, venue.currency) for venue in market.venues],
        schema={"venue": pl.String, "venue_currency": pl.String},
        orient="row",
    ).join(
        schedules.group_by("venue").agg(first_start=pl.col("day").min()),
        on="venue",
        how="left",
        maintain_order="left",
    )
    started = (
        prices.select(
            "venue", "day", "currency", points=pl.col(amount).cast(_AMOUNT).to_physical().cast(pl.Int64)
        )
        .with_row_index("row")
        .sort("day")
        .join_asof(schedules.sort("day"), on="day", by="venue", strategy="backward", check_sortedness=False)
        .sort("row")
        .join(venues, on="venue", how="left", maintain_order="left")
    )
    has_fees = pl.col("first_start").is_not_null()
    why = (
        pl.when(pl.col("venue_currency").is_null())
        .then(pl.lit("no venue of the market file"))
        .when(pl.col("points") < 0)
        .then(pl.lit("a price below zero"))
        .when(~has_fees)
        .then(pl.lit(None if party == "buyer" else "the venue has no seller's fee schedule"))
        .when(pl.col("day").is_null())
        .then(pl.lit("without a day no fee schedule is known"))
        .when(pl.col("schedule").is_null())
        .then(pl.format("the venue's first " + party + "'s fee schedule starts on {}", pl.col("first_start")))
        .when((pl.col("currency") != pl.col("venue_currency")).fill_null(value=True))
        .then(pl.format("the venue's fees are in {}", pl.col("venue_currency")))
    )
    return started.with_columns(why=why).with_columns(
        # mutation: equivalent, without an amount there is no price
        schedule=pl.when(pl.col("why").is_null()).then("schedule"),
        # mutation: equivalent, without a schedule there is no price
        points=pl.when(pl.col("why").is_null()).then("points"),
    )


def _with_fees(hammers: pl.DataFrame, market: Market, party: Party) -> pl.DataFrame:
    """Return what `_with_schedules` returns with the fee, tax included, in 10**-POINTS."""
    keyed = _with_schedules(hammers, market, party, "hammer")
    return _computed(keyed, market, party, lambda points, fees: (fees.charge(points),), ("fee",))


def _computed(
    keyed: pl.DataFrame,
    market: Market,
    party: Party,
    compute: Callable[[Whole, CompiledSchedule], tuple[Whole, ...]],
    names: tuple[str, ...],
) -> pl.DataFrame:
    """Return the rows with columns that are computed of the points, schedule by schedule; null without a schedule."""
    known = keyed.select("schedule", "points").with_row_index("row").drop_nulls()
    row, number, points = (known[name].to_numpy() for name in ("row", "schedule", "points"))
    computed = np.zeros((len(names), keyed.height), dtype=np.int64)
    for one, (venue, schedule) in enumerate(_schedules(market, party)):
        here = number == one
        if here.any():
            computed[:, row[here]] = compute(points[here], compile_schedule(schedule, venue.currency))
    is_known = pl.col("schedule").is_not_null() & pl.col("points").is_not_null()
    columns = {name: pl.Series(values) for name, values in zip(names, computed, strict=True)}
    return keyed.with_columns(**{name: pl.when(is_known).then(values) for name, values in columns.items()})


def _to_amount(points: pl.Expr) -> pl.Expr:
    """Return 10**-POINTS as Decimal(18, 4), null where it is too large for that."""
    amount = points.cast(pl.Decimal(38, 0), strict=False) * pl.lit(Decimal(1).scaleb(-POINTS))
    return amount.cast(_AMOUNT, strict=False)


def _finished(computed: pl.DataFrame, given: pl.DataFrame, points: pl.Expr, **added: pl.Expr) -> pl.DataFrame:
    """Return the given rows with the added columns and why; `points` is what the first of them states."""
    too_large = points.is_not_null() & _to_amount(points).is_null()
    why = pl.coalesce("why", pl.when(too_large).then(pl.lit(_TOO_LARGE)))
    return pl.concat([given, computed.select(**added, why=why)], how="horizontal")
