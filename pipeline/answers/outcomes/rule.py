"""What the rule of buying would have earned: every kept lot that went below its maximum bid, bought and sold again.

The rule wins a lot whose hammer price leaves room for one bid more within the maximum bid, and pays that bid (at a
fixed price, that price). A pair that was sold again later has *earned* what that sale left. Of one that was not, only
what was *expected* when the bid was set is known, by a fit that knew neither sale. The two are never added up.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from pipeline.answers.lots.answer import least_bids
from pipeline.answers.lots.landed import landing
from pipeline.answers.lots.resale import net_curve
from pipeline.answers.outcomes.keep import LOT
from pipeline.answers.outcomes.profit import receipts_of
from pipeline.config import Market
from pipeline.fees.amounts import POINTS

EARNED, EXPECTED = "earned", "expected"

BOUGHT: dict[str, pl.DataType] = {
    **dict.fromkeys(("record_id", "pair", "venue"), pl.String()),
    "ended_on": pl.Date(),
    "native_currency": pl.String(),
    **dict.fromkeys(("hammer", "maximum_bid", "paid", "landed"), pl.Float64()),
    "kind": pl.String(),
    **dict.fromkeys(("gain", "low", "high"), pl.Float64()),
    **dict.fromkeys(("sale_id", "sold_at", "stock_ref"), pl.String()),
    "sold_on": pl.Date(),
}
"""The columns of lots that the rule would have bought: hammer, maximum_bid and paid in native_currency, the rest in the
base currency."""


@dataclass(frozen=True)
class Rule:
    """What the rule of buying would have done with the kept lots that ended, in the base currency.

    Of `ended` lots with a known hammer price it would have bought those of `bought` (columns of BOUGHT, the latest
    first). `gain` is the net of the resale less the cost if won and the costs in the shop: of an EARNED one by the next
    sale of the pair, of an EXPECTED one the average when the bid was kept, with `low` and `high` at the ends of the
    80 % band. `unknown` counts those of which neither is known. `sale_id` is the next sale of the pair, `stock_ref` the
    owner's number in it.
    """

    ended: int
    bought: pl.DataFrame
    unknown: int


def earn_by_rule(settled: pl.DataFrame, again: pl.DataFrame, market: Market, *, as_of: date) -> Rule:
    """Return what the rule would have earned by a day.

    `settled` has kept lots as of sql/outcomes/settled_values.sql with resale_rate (units of the currency of the venue
    of the resale for one of the base, on the day of the sale); `again` the next sale of each pair
    (sql/outcomes/sold_again.sql). Only a sale after the lot's own, up to `as_of`, counts.
    """
    lots = (
        settled.filter(
            pl.col("question") == LOT,
            pl.col("status") == "sold",
            pl.col("price_basis") == "hammer",
            pl.col("native_currency") == pl.col("price_currency"),
            pl.col("venue").is_in([venue.name for venue in market.venues]),
            pl.col("ended_on") <= as_of,
        )
        .drop_nulls(["price", "price_native", "rate", "resale_rate"])
        .sort("said_on", "value_id")
        .unique("record_id", keep="last", maintain_order=True)
    )
    if lots.is_empty():
        return Rule(0, pl.DataFrame(schema=BOUGHT), 0)
    won = pl.concat(
        _bought_on(part, market) for _, part in lots.group_by("venue", "ended_on", maintain_order=True)
    )
    nets = pl.concat([again, receipts_of(again, market).select("net")], how="horizontal").filter(
        pl.col("sold_on") <= as_of
    )
    joined = won.join(
        nets.select(
            "sold_on", "stock_ref", "net", record_id="first_id", sale_id="record_id", sold_at="venue"
        ),
        on="record_id",
        how="left",
        maintain_order="left",
    )
    is_earned = pl.col("net").is_not_null() & (pl.col("sold_on") > pl.col("ended_on"))
    costs = float(market.buying.costs)
    judged = joined.with_columns(
        kind=pl.when(is_earned).then(pl.lit(EARNED)).otherwise(pl.lit(EXPECTED)),
        gain=pl.when(is_earned)
        .then(pl.col("net").cast(pl.Float64) - costs - pl.col("landed"))
        .otherwise("gain"),
        low=pl.when(~is_earned).then("low"),
        high=pl.when(~is_earned).then("high"),
    )
    known = judged.drop_nulls("gain").select(pl.col(name).cast(dtype) for name, dtype in BOUGHT.items())
    return Rule(
        lots.height,
        known.sort("ended_on", "record_id", descending=[True, False]),
        judged.height - known.height,
    )


def _bought_on(lots: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return the lots of one venue and day that the rule buys, with what was expected of them."""
    venue, day = market.venue(lots["venue"][0]), lots["ended_on"][0]
    landed = landing(venue, market, rate=lots["rate"][0], on=day)
    hammers = lots["price_native"].cast(pl.Float64).to_numpy()
    points = np.round(hammers * 10.0**POINTS).astype(np.int64)
    paid = least_bids(points, venue, landed)
    cost = landed.cost(paid) / 10.0**landed.base_digits
    resale = market.venue(market.buying.sells_at) if market.buying.sells_at else venue
    median, low, high = (lots[name].to_numpy() for name in ("median", "low", "high"))
    expected = lots["expected_net"].fill_null(np.nan).to_numpy()
    curve = net_curve(resale, market, rate=float(lots["resale_rate"][0]), on=day)
    costs = float(market.buying.costs)
    there = curve.price_leaving(np.nan_to_num(expected) + costs)
    return (
        lots.select("record_id", "pair", "venue", "ended_on", "native_currency")
        .with_columns(
            hammer=pl.Series(hammers),
            maximum_bid=lots["price"],
            paid=pl.Series(paid / 10.0**POINTS),
            landed=pl.Series(cost),
            gain=pl.Series(expected - cost).fill_nan(None),
            low=pl.Series(curve.net(there * low / median) - costs - cost),
            high=pl.Series(curve.net(there * high / median) - costs - cost),
        )
        .filter(pl.col("paid") > 0, pl.col("paid") <= pl.col("maximum_bid"))
    )
