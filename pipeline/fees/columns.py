"""Fees over whole columns: the integers of `amounts`, as polars expressions, with no loop over rows."""

from decimal import Decimal
from typing import Literal

import polars as pl

from pipeline.config import FeeSchedule, Market, Venue
from pipeline.errors import MarketFileError
from pipeline.fees.amounts import POINTS, least_rate_digits, scale
from pipeline.fees.inverse import net_window

Party = Literal["buyer", "seller"]

_AMOUNT = pl.Decimal(18, POINTS)
_KEY = ["schedule", "points"]
_OPEN_END = 10**18
_MOST_RATE_DIGITS = 9
_TOO_LARGE = "it comes to more than an amount can be"
_STEP_INTEGERS = ("above", "up_to", "start", "base", "rate", "minimum", "flat", "tax", "unit", "window")


def all_in_column(hammers: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Add the all-in price of each hammer price.

    `hammers` holds venue String, day Date, currency String, hammer Decimal(18, 4). Returns the same rows in
    the same order with all_in Decimal(18, 4) and why String: why the all-in is not known (a schedule
    that starts later, another currency than the venue's, a negative price). A venue without a buyer's
    schedule takes nothing from buyers. Equal to the price with its `fee_of` row by row.
    """
    charged = _with_fees(hammers, market, "buyer")
    free = pl.col("why").is_null() & pl.col("schedule").is_null()
    points = pl.when(free).then("points").otherwise(pl.col("points") + pl.col("fee"))
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


def hammer_column(prices: pl.DataFrame, market: Market, *, basis: Literal["all-in", "net"]) -> pl.DataFrame:
    """Add the hammer price behind each all-in price or net.

    `prices` holds venue String, day Date, currency String, price Decimal(18, 4). Returns the same rows in the
    same order with hammer Decimal(18, 4), exact Boolean (whether its all-in or net is the price, to the
    minor unit) and why String. Behind an all-in stands the price of `hammer_from_all_in`; behind a net the
    least price that leaves it, or else the least that leaves more. Where no hammer price would do, hammer
    is null and why says so.
    """
    party: Party = "buyer" if basis == "all-in" else "seller"
    keyed = _with_schedules(prices, market, party, "price")
    steps = _steps(market, party)
    tried = keyed.select(_KEY).drop_nulls().unique().join(steps, on="schedule")
    found = _greatest_hammers(tried, market) if party == "buyer" else _least_hammers(tried, steps, market)
    best = (
        found.drop_nulls("found")  # mutation: equivalent, where another column is null the price found is too
        .sort("exact", "found", descending=[True, party == "buyer"])
        # mutation: equivalent, of rows in a kept order any is the first
        .unique(_KEY, keep="first", maintain_order=True)
        .select(*_KEY, "found", "exact")
    )
    joined = keyed.join(best, on=_KEY, how="left", maintain_order="left")
    free = pl.col("why").is_null() & pl.col("schedule").is_null() & pl.col("points").is_not_null()
    lost = pl.col("schedule").is_not_null() & pl.col("points").is_not_null() & pl.col("found").is_null()
    points = pl.when(free).then("points").otherwise("found")
    why_lost = "the least fee alone exceeds this price" if party == "buyer" else _TOO_LARGE
    return _finished(
        joined.with_columns(
            why=pl.coalesce("why", pl.when(lost).then(pl.lit(why_lost))),
            exact=pl.when(free).then(pl.lit(value=True)).otherwise("exact"),
        ),
        prices,
        points,
        hammer=_to_amount(points),
        exact=pl.col("exact"),
    )


def _rate_digits(market: Market) -> int:
    """Return the decimals that all rates of the market file share; raises MarketFileError beyond nine."""
    digits = max(
        (least_rate_digits(schedule) for venue in market.venues for schedule in venue.fees),
        default=0,  # mutation: equivalent, without schedules no rate is scaled
    )
    if digits > _MOST_RATE_DIGITS:
        raise MarketFileError(
            f"a fee schedule has a rate of {digits} decimals; at most {_MOST_RATE_DIGITS} are computed exactly",
            "write the rate with fewer decimals.",
        )
    return digits


def _schedules(market: Market, party: Party) -> list[tuple[Venue, FeeSchedule]]:
    """Return every schedule of a party with its venue."""
    return [
        (venue, schedule) for venue in market.venues for schedule in venue.fees if schedule.party == party
    ]


def _steps(market: Market, party: Party) -> pl.DataFrame:
    """Return one row per schedule and tier: schedule, venue, starts_on, and the integers of `Step` and `Scale`."""
    digits = _rate_digits(market)
    rows = [
        {
            "schedule": number, "venue": venue.name, "starts_on": schedule.starts_on,
            "above": step.above, "up_to": _OPEN_END if step.up_to is None else step.up_to,
            "start": step.start, "base": step.base, "rate": step.rate,
            "minimum": scaled.minimum, "flat": scaled.flat, "tax": scaled.tax, "unit": scaled.unit,
            # mutation: equivalent, a buyer's window is not read
            "window": net_window(step, scaled) if party == "seller" else 0,
        }
        for number, (venue, schedule) in enumerate(_schedules(market, party))
        for scaled in [scale(schedule, venue.currency, digits)]
        for step in scaled.steps
    ]  # fmt: skip
    integers = {name: pl.Int128() for name in _STEP_INTEGERS}
    schema = {"schedule": pl.UInt32(), "venue": pl.String(), "starts_on": pl.Date(), **integers}
    return pl.DataFrame(rows, schema=schema)


def _with_schedules(prices: pl.DataFrame, market: Market, party: Party, amount: str) -> pl.DataFrame:
    """Return the prices with row, points (10**-POINTS), schedule (null where none applies) and why."""
    steps = _steps(market, party)
    venues = pl.DataFrame(
        [(venue.name, venue.currency) for venue in market.venues],
        schema={"venue": pl.String, "venue_currency": pl.String},
        orient="row",
    ).join(
        steps.group_by("venue").agg(first_start=pl.col("starts_on").min()),
        on="venue",
        how="left",
        maintain_order="left",
    )
    started = (
        prices.select(
            "venue", "day", "currency", points=pl.col(amount).cast(_AMOUNT).to_physical().cast(pl.Int128)
        )
        .with_row_index("row")
        .sort("day")
        .join_asof(
            steps.select("schedule", "venue", day="starts_on").unique().sort("day"),
            on="day",
            by="venue",
            strategy="backward",
            check_sortedness=False,
        )
        .sort("row")
        .join(venues, on="venue", how="left", maintain_order="left")
    )
    has_fees = pl.col("first_start").is_not_null()
    why = (
        pl.when(pl.col("venue_currency").is_null())
        .then(pl.lit("no venue of the market file"))
        .when(pl.col("points") < 0)
        .then(pl.lit("a price below nought"))
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
    """Return what `_with_schedules` returns with the fee (tax included), worked out once per distinct price."""
    keyed = _with_schedules(hammers, market, party, "hammer")
    # mutation: equivalent, neither column is read afterwards
    steps = _steps(market, party).with_columns(edge="up_to").drop("venue", "starts_on").sort("edge")
    fees = (
        keyed.select(_KEY)
        .drop_nulls()
        .unique()
        .sort("points")
        .join_asof(
            steps,
            left_on="points",
            right_on="edge",
            by="schedule",
            strategy="forward",
            check_sortedness=False,
        )
        .select(*_KEY, fee=_fee("points", market))
    )
    return keyed.join(fees, on=_KEY, how="left", maintain_order="left")


def _fee(points: str | pl.Expr, market: Market) -> pl.Expr:
    """Return fee and tax on a hammer price in the tier of its row, in 10**-POINTS."""
    # mutation: equivalent, polars reads a bare name beside a column as a column
    hammer = pl.col(points) if isinstance(points, str) else points
    ratio = pl.lit(10 ** _rate_digits(market), dtype=pl.Int128)
    percentage = pl.col("base") + pl.col("rate") * (hammer - pl.col("start"))
    due = pl.max_horizontal(percentage, pl.col("minimum")) + pl.col("flat")
    fee = _divide_half_up(due, ratio * pl.col("unit"))
    return (fee + _divide_half_up(fee * pl.col("tax"), ratio)) * pl.col("unit")


# mutation: equivalent, so many prices are tried that one more or less changes no answer
def _greatest_hammers(tried: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return schedule, points, found, exact: in each tier the greatest hammer price within the all-in `points`."""
    unit, limit = pl.col("unit"), pl.col("points")
    squared, taxed = _ratios(market)
    by_rate = (
        limit * squared - (pl.col("base") - pl.col("rate") * pl.col("start") + pl.col("flat")) * taxed
    ) // (squared + pl.col("rate") * taxed)
    by_minimum = limit - (pl.col("minimum") + pl.col("flat")) * taxed // squared
    near = pl.min_horizontal(by_rate, by_minimum) // unit
    last = pl.min_horizontal("up_to", "points") // unit
    tries = [
        pl.max_horizontal(pl.min_horizontal(near + ahead, last), _first_of_tier()) * unit
        for ahead in range(2, -3, -1)
    ]
    fitting = [pl.when(hammer + _fee(hammer, market) <= limit).then(hammer) for hammer in tries]
    found = tried.filter(_first_of_tier() <= last).select(*_KEY, *_STEP_INTEGERS, found=pl.coalesce(fitting))
    return found.with_columns(exact=pl.col("found") + _fee("found", market) == limit)


# mutation: equivalent, so many prices are tried that one more or less changes no answer
def _least_hammers(tried: pl.DataFrame, steps: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return schedule, points, found, exact: in each tier the least hammer price with a net of `points` or more."""
    unit, wanted = pl.col("unit"), pl.col("points")
    squared, taxed = _ratios(market)
    least = wanted - 2 * unit
    by_rate = (
        least * squared + (pl.col("base") - pl.col("rate") * pl.col("start") + pl.col("flat")) * taxed
    ) // (squared - pl.col("rate") * taxed)
    by_minimum = least + (pl.col("minimum") + pl.col("flat")) * taxed // squared
    first = pl.max_horizontal(by_rate // unit, by_minimum // unit, _first_of_tier())
    last = pl.col("up_to") // unit
    widest = steps["window"].max() if steps.height else 0
    tries = [pl.min_horizontal(first + ahead, last) * unit for ahead in range(int(str(widest)) + 1)]
    nets = [hammer - _fee(hammer, market) for hammer in tries]
    exact = pl.coalesce(
        [pl.when(net == wanted).then(hammer) for hammer, net in zip(tries, nets, strict=True)]
    )
    more = pl.coalesce([pl.when(net >= wanted).then(hammer) for hammer, net in zip(tries, nets, strict=True)])
    return (
        tried.filter(first <= last)
        .select(*_KEY, _exact=exact, _more=more)
        .select(*_KEY, found=pl.coalesce("_exact", "_more"), exact=pl.col("_exact").is_not_null())
    )


def _ratios(market: Market) -> tuple[pl.Expr, pl.Expr]:
    """Return ratio² and ratio + tax, where ratio = 10**rate_digits."""
    ratio = 10 ** _rate_digits(market)
    return pl.lit(ratio * ratio, dtype=pl.Int128), pl.lit(ratio, dtype=pl.Int128) + pl.col("tax")


def _first_of_tier() -> pl.Expr:
    """Return the least hammer price of a tier, in minor units."""
    return pl.when(pl.col("above") == 0).then(0).otherwise(pl.col("above") // pl.col("unit") + 1)


def _divide_half_up(dividend: pl.Expr, divisor: pl.Expr) -> pl.Expr:
    """Return the quotient of two integers from nought up, rounded half up."""
    return (2 * dividend + divisor) // (2 * divisor)


def _to_amount(points: pl.Expr) -> pl.Expr:
    """Return 10**-POINTS as Decimal(18, 4), null where it is too large for that."""
    amount = points.cast(pl.Decimal(38, 0), strict=False) * pl.lit(Decimal(1).scaleb(-POINTS))
    return amount.cast(_AMOUNT, strict=False)


def _finished(computed: pl.DataFrame, given: pl.DataFrame, points: pl.Expr, **added: pl.Expr) -> pl.DataFrame:
    """Return the given rows with the added columns and why; `points` is what the first of them states."""
    too_large = points.is_not_null() & _to_amount(points).is_null()
    why = pl.coalesce("why", pl.when(too_large).then(pl.lit(_TOO_LARGE)))
    return pl.concat([given, computed.select(**added, why=why)], how="horizontal")
