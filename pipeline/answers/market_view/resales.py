"""The second opinion on the market: what one and the same pair fetched when it was sold again."""

from dataclasses import dataclass
from datetime import date
from math import exp

import numpy as np
import polars as pl

from pipeline.answers.market_view.index import LEVEL, WALKED, IndexPoint, first_of, month_walk
from pipeline.errors import FitError
from pipeline.hedonic.bands import half_width
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.index import period_index
from pipeline.hedonic.predict import differences
from pipeline.hedonic.repeat_sales import RepeatIndex, repeat_sales_index
from pipeline.market.model import FACTORS
from pipeline.schema import UNKNOWN

PERIODS: tuple[int, ...] = (3, 6, 12)
"""The lengths of the periods that are tried, in months, finest first."""

MOST_ERROR = 0.25
"""The standard error (log price) above which an index is rough, and longer periods are tried: ± 28 %."""

FEWEST = 10
"""Fewer resales than this say nothing about the market."""

_OF_THE_SALE = ("venue", "month")


@dataclass(frozen=True)
class Agreement:
    """What resales fetched beside what the hedonic index says: 1.02 is two per cent more; 80 % band.

    `year` is the year of the second sale, None for all of them.
    """

    year: int | None
    factor: float
    low: float
    high: float
    pairs: int


@dataclass(frozen=True)
class Resales:
    """The repeat-sales index, and what it rests on.

    `points` are 100 at `base`, the first period that a resold pair reaches; `months` is the length of a
    period, and a point's `sales` the resales that end or start there. `error` is the largest standard
    error (log price) of a point; `rough` says that it is too large for the index to stand alone.
    `pairs` counts the resales used, `near` those within one period, `unpriced` those of which one sale
    cannot be priced. `guarded` says whether the variances behind Case & Shiller's weights had to be kept
    above zero. `agreement` sets the resales beside the hedonic index (None where there are too few),
    `by_year` does so by the year of the second sale. `why_not` says why there are no points.
    """

    points: tuple[IndexPoint, ...]
    base: date | None
    months: int
    error: float
    rough: bool
    pairs: int
    near: int
    unpriced: int
    guarded: bool
    agreement: Agreement | None
    by_year: tuple[Agreement, ...]
    why_not: str


def resale_index(whole: Fit, resales: pl.DataFrame, sales: pl.DataFrame) -> Resales:
    """Return the repeat-sales index over the finest periods that the resales allow.

    `resales` has the columns of sql/marts/repeat_sales.sql, `sales` those of priced_sales.sql, and `whole`
    is the fit to them. What was done to a pair in between, what it lost or gained, and the change of
    venue are taken out of its two prices first, by the fit (the hybrid of Case & Quigley 1991, Rev. Econ.
    Stat. 73); what is not known at one sale is taken from the other.
    """
    ratios = _ratios(whole, resales, sales)
    agreement, by_year = _agreements(whole, ratios)
    found, months, why_not = _finest(ratios)
    points = () if found is None else _points(found, months)
    error = 0.0 if found is None else float(found.index["error"].to_numpy().max())
    return Resales(
        points=points,
        base=points[0].period if points else None,
        months=months,
        error=error,
        rough=error > MOST_ERROR,
        pairs=0 if found is None else found.pairs,
        near=0 if found is None else ratios.height - found.pairs,
        unpriced=resales.height - ratios.height,
        guarded=found is not None and found.guarded,
        agreement=agreement,
        by_year=by_year,
        why_not=why_not,
    )


def _finest(ratios: pl.DataFrame) -> tuple[RepeatIndex | None, int, str]:
    """Return the index over the finest periods whose error is acceptable, else over the longest that there is.

    With it come the months of a period, and why there is none ("" where there is one).
    """
    if ratios.height < FEWEST:
        resales = f"{ratios.height} resales of one and the same pair"
        return None, 0, f"{resales} are too few for an index of their own ({FEWEST} are needed)."
    best: tuple[RepeatIndex | None, int, str] = (None, 0, "No resale reaches from one year to another.")
    for months in PERIODS:
        apart = ratios.select(pl.col("start", "end") // months, "log_ratio").filter(
            pl.col("start") < pl.col("end")
        )
        if apart.is_empty():
            continue
        try:
            found = repeat_sales_index(apart, weighting="case-shiller", level=LEVEL)
        except FitError as exc:
            best = best if best[0] is not None else (None, 0, f"There is no repeat-sales index: {exc.what}.")
            continue
        best = (found, months, "")
        if float(found.index["error"].to_numpy().max()) <= MOST_ERROR:
            break
    return best


def _ratios(whole: Fit, resales: pl.DataFrame, sales: pl.DataFrame) -> pl.DataFrame:
    """Return start and end (months) and log_ratio, net of what changed in between; one row a resale."""
    both = resales.select("first_id", "second_id").join(
        sales.select("record_id", "log_price", *FACTORS), left_on="first_id", right_on="record_id"
    )
    both = both.join(
        sales.select("record_id", "log_price", *FACTORS),
        left_on="second_id",
        right_on="record_id",
        suffix="_second",
        maintain_order="left",
    )
    if both.is_empty():
        return pl.DataFrame(schema={"start": pl.Int32, "end": pl.Int32, "log_ratio": pl.Float64})
    moved = differences(whole, _side(both, "", "_second"), _side(both, "_second", ""))["effect"]
    return both.select(
        pl.col("month").alias("start"),
        pl.col("month_second").alias("end"),
        (pl.col("log_price_second") - pl.col("log_price") - moved).alias("log_ratio"),
    )


def _side(both: pl.DataFrame, own: str, other: str) -> pl.DataFrame:
    """Return the factors of one sale of each pair, in one month for all, the other filling what is unknown."""

    def known(name: str) -> pl.Expr:
        column = pl.col(name + own)
        if FACTORS[name] != pl.String():
            return pl.coalesce(column, pl.col(name + other))
        said = pl.when(column != UNKNOWN).then(column)
        return pl.coalesce(said, pl.col(name + other), column)

    return both.select(
        *(known(name).alias(name) for name in FACTORS if name not in _OF_THE_SALE),
        pl.col(f"venue{own}").alias("venue"),
        pl.col("month").max().alias(WALKED),
    )


def _agreements(whole: Fit, ratios: pl.DataFrame) -> tuple[Agreement | None, tuple[Agreement, ...]]:
    """Return what resales fetched beside the index: all of them, and by the year of the second sale."""
    term = month_walk(whole)
    if term is None or ratios.height < FEWEST:
        return None, ()
    months = pl.concat([ratios["start"], ratios["end"]]).unique().sort()
    levels = period_index(whole, [term], months.to_list(), base=int(months[0]))["effect"]
    level = dict(zip(months, levels, strict=True))
    walked = pl.col("end").replace_strict(level, return_dtype=pl.Float64) - pl.col("start").replace_strict(
        level, return_dtype=pl.Float64
    )
    left = ratios.select((pl.col("end") // 12).alias("year"), (pl.col("log_ratio") - walked).alias("left"))
    spread = float(left["left"].std())  # type: ignore[arg-type]
    yearly = left.group_by("year").agg(pl.col("left").mean(), pl.len()).sort("year")
    return (
        _agreement(None, float(left["left"].mean()), spread, left.height),  # type: ignore[arg-type]
        tuple(_agreement(year, middle, spread, pairs) for year, middle, pairs in yearly.iter_rows()),
    )


def _agreement(year: int | None, middle: float, spread: float, pairs: int) -> Agreement:
    """Return an agreement from the mean of so many log ratios, whose spread is that of all resales."""
    half = float(half_width(np.array([spread**2 / pairs]), np.zeros(1), np.inf, LEVEL)[0])
    return Agreement(year, exp(middle), exp(middle - half), exp(middle + half), pairs)


def _points(found: RepeatIndex, months: int) -> tuple[IndexPoint, ...]:
    return tuple(
        IndexPoint(first_of(int(period) * months), index, low, high, pairs)
        for period, index, low, high, pairs in found.index.select(
            "period", "index", "low", "high", "pairs"
        ).iter_rows()
    )
