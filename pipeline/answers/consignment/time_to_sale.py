"""Time to sale: how fast fixed-price offers sell, by what is asked over fair value, sold and unsold counted.

The proportional hazards of Cox (1972, JRSS B 34), ties by Efron (1977, JASA 72), for what a higher ask does to it;
the baseline by Breslow (1974, Biometrics 30).
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

from pipeline.phrases.phrases import Sentence

Array = NDArray[np.float64]

FEWEST_SOLD, FEWEST_UNSOLD = 30, 10
"""Fewer offers of either kind than this say too little of what an ask does."""

ASKS_WITHIN = 1.5
"""Asks further than this (log) from fair value are left out: typing errors, or another pair altogether."""


@dataclass(frozen=True)
class Hazard:
    """How fast offers sell: hazard = baseline(day) × exp(slope · log(ask / fair value)).

    `error` is the slope's standard error. `days` and `cumulative` are the baseline's cumulative hazard, of an
    offer at fair value; `longest` is the longest that any offer was open. `paid_to_ask` is what buyers paid as a
    share of the ask, the mean of the sold. Between `lowest` and `highest` (of fair value) lie nine of ten asks.
    """

    slope: float
    error: float
    days: Array
    cumulative: Array
    longest: float
    sold: int
    unsold: int
    paid_to_ask: float
    lowest: float
    highest: float

    def chance(self, ratio: ArrayLike, day: float) -> Array:
        """Return the chance of a sale within so many days, for asks as a multiple of fair value.

        Past the longest that any offer was open, the baseline goes on at its mean pace.
        """
        known = np.interp(
            min(day, self.longest),
            np.append(self.days, self.longest),
            np.append(self.cumulative, self.cumulative[-1]),
        )
        if day < self.days[0]:
            known = 0.0
        further = max(day - self.longest, 0.0) * self.cumulative[-1] / self.longest
        relative = np.asarray(ratio, dtype=np.float64) ** self.slope
        chance: Array = -np.expm1(-(known + further) * relative)
        return chance


@dataclass(frozen=True)
class TimeToSale:
    """What past offers say of how fast pairs sell: `hazard` is None where they say too little, and why."""

    hazard: Hazard | None
    why_not: str


def learn_time_to_sale(listings: pl.DataFrame, fair: ArrayLike) -> TimeToSale:
    """Return what fixed-price offers say of the time to a sale.

    `listings` have the columns of sql/marts/listings.sql, `fair` the log of each one's fair value (base
    currency) at its own venue in the month in which it ended. Where enough remain, offers of which era or
    grade is not said are left out: their asks know more of the pair than the records do, which would make
    buyers look less sensitive to an ask than they are.
    """
    gaps = np.log(listings["ask_price"].to_numpy()) - np.asarray(fair, dtype=np.float64)
    used = np.abs(gaps) < ASKS_WITHIN
    stated = listings.select(pl.all_horizontal(pl.col("era", "grade").is_not_null())).to_series().to_numpy()
    events = listings["sold"].to_numpy()
    if _enough(events[used & stated]):
        used &= stated
    gap, sold = gaps[used], events[used]
    days = listings["days"].to_numpy().astype(np.float64)[used]
    count, left = int(sold.sum()), int((~sold).sum())
    if not _enough(sold):
        return TimeToSale(
            None,
            Sentence.saying(
                "caution_too_few_offers",
                sold=str(count),
                unsold=str(left),
                least_sold=str(FEWEST_SOLD),
                least_unsold=str(FEWEST_UNSOLD),
            ),
        )
    slope, error = cox_slopes(days, sold, gap[:, None])
    times, cumulative = baseline(days, sold, gap * slope[0])
    paid = listings.filter(pl.Series(used)).filter(pl.col("sold") & pl.col("price_paid").is_not_null())
    ratio = (paid["price_paid"] / paid["ask_price"]).clip(0, 1)
    paid_to_ask = float(ratio.to_numpy().mean()) if paid.height else 1.0
    lowest, highest = (float(end) for end in np.exp(np.quantile(gap, (0.05, 0.95))))
    return TimeToSale(
        Hazard(
            float(slope[0]),
            float(error[0]),
            times,
            cumulative,
            float(days.max()),
            count,
            left,
            paid_to_ask,
            lowest,
            highest,
        ),
        "",
    )


def _enough(sold: NDArray[np.bool_]) -> bool:
    return int(sold.sum()) >= FEWEST_SOLD and int((~sold).sum()) >= FEWEST_UNSOLD


def cox_slopes(days: ArrayLike, sold: ArrayLike, covariates: ArrayLike) -> tuple[Array, Array]:
    """Return (slopes, standard errors) of Cox's proportional hazards on `covariates` (offers, k), ties by Efron."""
    from statsmodels.duration.hazard_regression import PHReg

    model = PHReg(
        np.asarray(days, dtype=np.float64),
        np.asarray(covariates, dtype=np.float64),
        status=np.asarray(sold, dtype=np.float64),
        ties="efron",
    )
    found = model.fit(disp=0)
    return np.asarray(found.params, dtype=np.float64), np.asarray(found.bse, dtype=np.float64)


def baseline(days: ArrayLike, sold: ArrayLike, log_relative: ArrayLike) -> tuple[Array, Array]:
    """Return (days, cumulative hazard) of an offer of relative hazard one: Breslow's estimate.

    `log_relative` is the log of each offer's hazard relative to such a one.
    """
    open_days = np.asarray(days, dtype=np.float64)
    events = np.asarray(sold, dtype=bool)
    order = np.argsort(open_days, kind="stable")
    relative = np.exp(np.asarray(log_relative, dtype=np.float64))[order]
    standing = np.cumsum(relative[::-1])[::-1]
    times, counts = np.unique(open_days[events], return_counts=True)
    first = np.searchsorted(open_days[order], times, side="left")
    return times, np.cumsum(counts / standing[first])
