"""From the drawn prices in EUR back to what each venue states: hammer prices, asks, estimates."""

from decimal import Decimal
from functools import cache

import polars as pl

from pipeline.fees import fee_of
from pipeline.ingest.rates import convert_rates, ecb_rates
from sample_data import scenario

BID_STEPS: dict[str, tuple[tuple[int, int, int], ...]] = {
    "EUR": ((4, 100, 2), (100, 500, 5), (500, 2000, 10), (2000, 50_000, 50)),
    "JPY": ((500, 20_000, 200), (20_000, 100_000, 500), (100_000, 6_000_000, 2000)),
}
"""By currency: from, to and increment of an auction house's bids."""

ESTIMATE_STEPS: dict[str, int] = {"EUR": 5, "JPY": 1000}
HIGH_OVER_LOW = 1.5


def with_rates(offers: pl.DataFrame) -> pl.DataFrame:
    """Add currency (the venue's) and rate (its units for one EUR on the day of the offer's end).

    An offer that is still open has the rate of the last day.
    """
    currencies = {venue.name: venue.currency for venue in scenario.market().venues}
    keyed = offers.with_columns(
        currency=pl.col("venue").replace_strict(currencies, return_dtype=pl.String),
        day=pl.col("closed_on").fill_null(scenario.LAST_DAY),
    )
    rates = convert_rates(keyed.select("currency", "day"), ecb_rates(), base="EUR")
    return keyed.join(
        rates.select("currency", "day", "rate"), on=["currency", "day"], how="left", maintain_order="left"
    ).drop("day")


def with_native_amounts(offers: pl.DataFrame) -> pl.DataFrame:
    """Add price_native, ask_native and high_native, whole units of `currency`, and all_in_native.

    At an auction the price is the bid whose all-in comes nearest to the drawn price, and ask and high are
    the estimates of it; at a fixed price it is the drawn price itself, and high is null.
    """
    numbered = with_rates(offers).with_row_index("at")
    auction = pl.col("venue").is_in(list(scenario.AUCTION_WEEKDAY))
    lots = numbered.filter(auction)
    hammers = [_nearest_bids(lots.filter(pl.col("venue") == venue)) for venue in scenario.AUCTION_WEEKDAY]
    step = (
        pl.when(auction)
        .then(pl.col("currency").replace_strict(ESTIMATE_STEPS, default=1, return_dtype=pl.Float64))
        .otherwise(1.0)
    )
    ask = pl.col("ask") * pl.col("rate")

    def tidy(amount: pl.Expr) -> pl.Expr:
        return pl.max_horizontal((amount / step).round() * step, step).cast(pl.Int64)

    fixed = (pl.col("price_paid") * pl.col("rate")).round().clip(lower_bound=1).cast(pl.Int64)
    return (
        numbered.join(pl.concat(hammers), on="at", how="left", maintain_order="left")
        .with_columns(
            price_native=pl.when(auction).then("hammer").otherwise(fixed),
            all_in_native=pl.when(auction).then("all_in").otherwise(fixed),
            ask_native=tidy(ask),
            high_native=pl.when(auction).then(tidy(ask * HIGH_OVER_LOW)),
        )
        .drop("at", "hammer", "all_in")
    )


@cache
def bids(venue: str) -> pl.DataFrame:
    """Return every valid bid step of an auction house, under each of its buyer's schedules.

    Columns: starts_on (of the schedule), hammer (Int64) and all_in (Float64), both in its currency.
    """
    house = scenario.market().venue(venue)
    rungs = [
        Decimal(bid)
        for low, high, increment in BID_STEPS[house.currency]
        for bid in range(low, high, increment)
    ]
    return pl.concat(
        pl.DataFrame(
            {
                "starts_on": [schedule.starts_on] * len(rungs),
                "hammer": [int(rung) for rung in rungs],
                "all_in": [float(rung + fee_of(rung, schedule, house.currency)) for rung in rungs],
            }
        )
        for schedule in house.fees
        if schedule.party == "buyer"
    )


def _nearest_bids(lots: pl.DataFrame) -> pl.DataFrame:
    """Return at, hammer and all_in of the lots of one house: the bid whose all-in is nearest to the price."""
    sold = lots.filter(pl.col("price_paid").is_not_null())
    if sold.is_empty():
        return pl.DataFrame(schema={"at": pl.UInt32, "hammer": pl.Int64, "all_in": pl.Float64})
    ladder = bids(sold["venue"][0])
    starts = ladder.select("starts_on").unique().sort("starts_on")
    return (
        sold.select("at", "closed_on", wanted=pl.col("price_paid") * pl.col("rate"))
        .sort("closed_on")
        .join_asof(starts, left_on="closed_on", right_on="starts_on", strategy="backward", coalesce=False)
        .sort("wanted")
        .join_asof(
            ladder.sort("all_in"),
            left_on="wanted",
            right_on="all_in",
            by="starts_on",
            strategy="nearest",
            check_sortedness=False,
        )
        .select("at", "hammer", "all_in")
        .sort("at")
    )
