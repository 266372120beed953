"""The stock: the value of each pair, of groups and of all together, and which pairs were sold."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.appraisal.cautions import Caution, weak_values, weakness_column
from pipeline.answers.lots.resale import net_curve
from pipeline.config import Market
from pipeline.hedonic.predict import log_prices
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.era_mixture import EraChances, mix_eras
from pipeline.market.fitted_market import FittedMarket, Source
from pipeline.market.joint_price import JointPrices, joint_prices
from pipeline.market.price_distribution import price_distribution

Array = NDArray[np.float64]

LOW = 0.05
"""The chance that all pairs together bring less than the low figure: 19 in 20 outcomes bring more."""

ALL = ""
"""The name of the group of all pairs."""

ABOVE, BELOW, SLOW = "only 1 in 10 pays so much", "9 in 10 pay more", "over fair value, and long held"
ENDED = "its offer has ended"
"""Why an asking price should be looked at again."""


@dataclass(frozen=True)
class Together:
    """What a group of pairs is worth together, in the base currency.

    `cost` sums the costs that are known, each with the work paid, of all but `without_cost` of them. `median` and the
    80 % band, `low` to `high`, are those of the sum, which is not the sum of single bands; `safe` is the sum that 19 in
    20 outcomes exceed. `error` is the standard error of `safe` from the number of draws.
    """

    group: str
    pairs: int
    cost: float
    without_cost: int
    median: float
    low: float
    high: float
    safe: float
    error: float


@dataclass(frozen=True)
class Stock:
    """The pairs of a stock list at a day, in `currency`.

    `pairs` has one row for each that is still there, in the order of the list:
    row_number, stock_ref, silhouette, colourway, era, grade, since, days_held, cost, work, offered_at, ask, median,
    low, high, best_venue, net, margin (net less cost and work), weak (in few words why its value is weak, or null) and
    look (ABOVE, BELOW, SLOW, ENDED or null). `sold` has one row a pair that was sold: stock_ref, silhouette, colourway,
    venue, sold_on, price_paid, net, cost, work, profit, days_held. `doubtful` has one row a pair of which nobody can
    say whether it was sold, with why; it counts in neither. `listed_on` is the day of the latest list of the ledger,
    None where the list is a file. `groups` are those of the attribute `by`; `whole` is all of them. `weak`
    are the cautions that put every value in doubt. `pictures` has the names of each pair's photographs, where the list
    names them.
    """

    as_of: date
    currency: str
    by: str
    pairs: pl.DataFrame
    sold: pl.DataFrame
    whole: Together | None
    groups: tuple[Together, ...]
    cautions: tuple[str, ...]
    source: Source
    weak: tuple[Caution, ...] = ()
    pictures: tuple[tuple[str, ...], ...] = ()
    doubtful: pl.DataFrame = field(default_factory=pl.DataFrame)
    listed_on: date | None = None

    @property
    def has_work(self) -> bool:
        """Whether the list says of any pair what was spent on work."""
        return any(one["work"].count() > 0 for one in (self.pairs, self.sold))


def spent() -> pl.Expr:
    """Return what a pair has cost with the work paid on it; null where the cost is not known."""
    return pl.col("cost") + pl.col("work").fill_null(0)


def value_pairs_of_stock(
    listed: pl.DataFrame,
    factors: pl.DataFrame,
    fitted: FittedMarket,
    market: Market,
    sales: pl.DataFrame,
    rates: Mapping[str, float],
    venues: Sequence[str],
    *,
    as_of: date,
    by: str,
    doubt: EraChances | None = None,
) -> tuple[pl.DataFrame, Together | None, tuple[Together, ...]]:
    """Return (`Stock.pairs`, the whole, its groups) of the pairs that are still there.

    Pairs in `doubt` are valued by the chances of their eras.

    `listed` has the pairs' columns up to ask, `factors` the same pairs in the columns of FACTORS, `sales` the priced
    sales up to `as_of`, `rates` units of each currency for one of the base. Pairs are valued at no venue in
    particular; the best venue is that of `venues` whose typical sale leaves most after its fees.
    """
    if not listed.height:
        return (
            _judged(
                listed.with_columns(weak=pl.lit(None, pl.String)),
                np.zeros((0, 3)),
                [],
                np.zeros(0),
                market,
                as_of,
            ),
            None,
            (),
        )
    with one_blas_thread():
        prices = mix_eras(price_distribution(fitted, factors), doubt, fitted, factors)
        names = listed[by].cast(pl.String).fill_null("not known")
        groups = {ALL: np.arange(listed.height)} | {
            name: (names == name).arg_true().to_numpy() for name in names.unique(maintain_order=True)
        }
        weak = weakness_column(
            weak_values(
                factors.with_columns(listed["era"]), fitted.fit, prices.unseen, prices.extrapolated, sales
            )
        )
        joint = joint_prices(fitted.fit, factors, prices, groups)
        nets = _nets(fitted, factors, prices.centre, market, rates, venues, as_of)
    bands = np.exp(np.column_stack([prices.centre, prices.quantile(0.1), prices.quantile(0.9)]))
    best = [venues[number] for number in nets.argmax(axis=0)] if len(venues) else [None] * listed.height
    net = nets.max(axis=0) if len(venues) else np.full(listed.height, np.nan)
    pairs = _judged(listed.with_columns(weak), bands, best, net, market, as_of)
    whole, *parts = [_together(name, pairs[rows], joint) for name, rows in groups.items()]
    return pairs, whole, tuple(sorted(parts, key=lambda part: -part.median))


def _nets(
    fitted: FittedMarket,
    factors: pl.DataFrame,
    centre: Array,
    market: Market,
    rates: Mapping[str, float],
    venues: Sequence[str],
    as_of: date,
) -> Array:
    """Return (venues, pairs): what a typical sale leaves at each venue, after its fees, in the base currency."""
    anywhere = log_prices(fitted.fit, factors)
    nets = []
    for name in venues:
        there = factors.with_columns(venue=pl.lit(name))
        price = np.exp(centre + log_prices(fitted.fit, there) - anywhere)
        venue = market.venue(name)
        curve = net_curve(venue, market, rate=rates[venue.currency], on=as_of)
        nets.append(curve.net(price))
    return np.stack(nets) if nets else np.zeros((0, factors.height))


def _judged(
    listed: pl.DataFrame,
    bands: Array,
    best: Sequence[str | None],
    net: Array,
    market: Market,
    as_of: date,
) -> pl.DataFrame:
    """Return the pairs with their value, where to sell them, their margin, and what to do about the ask."""
    slow = pl.col("days_held") > market.consigning.patience_days
    return (
        listed.with_columns(
            *(
                pl.Series(name, values)
                for name, values in zip(("median", "low", "high"), bands.T, strict=True)
            ),
            best_venue=pl.Series(best, dtype=pl.String),
            net=pl.Series(net).fill_nan(None),
            days_held=pl.when(pl.col("since") <= as_of).then(
                (pl.lit(as_of) - pl.col("since")).dt.total_days()
            ),
        )
        .with_columns(
            margin=pl.col("net") - spent(),
            look=pl.when(pl.col("ask").is_not_null() & (pl.col("asked_until") < as_of))
            .then(pl.lit(ENDED))
            .when(pl.col("ask") > pl.col("high"))
            .then(pl.lit(ABOVE))
            .when(pl.col("ask") < pl.col("low"))
            .then(pl.lit(BELOW))
            .when(slow & (pl.col("ask") > pl.col("median")))
            .then(pl.lit(SLOW)),
        )
        .select(
            *(
                "row_number",
                "stock_ref",
                "silhouette",
                "colourway",
                "maker",
                "era",
                "grade",
                "since",
                "days_held",
            ),
            *("cost", "work", "offered_at", "ask", "median", "low", "high"),
            *("best_venue", "net", "margin", "weak", "look"),
        )
    )


def _together(name: str, pairs: pl.DataFrame, joint: JointPrices) -> Together:
    return Together(
        group=name,
        pairs=pairs.height,
        cost=float(pairs.select(spent()).sum().item()),
        without_cost=pairs["cost"].null_count(),
        median=joint.quantile(name, 0.5),
        low=joint.quantile(name, 0.1),
        high=joint.quantile(name, 0.9),
        safe=joint.quantile(name, LOW),
        error=joint.error(name, LOW),
    )
