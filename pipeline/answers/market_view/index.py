"""The market by month, everything else equal: the hedonic index and what it did recently."""

from dataclasses import dataclass
from datetime import date
from math import exp, sqrt

import polars as pl

from pipeline.hedonic.fitted import Fit, last_level
from pipeline.hedonic.index import period_index
from pipeline.market.model import month_number

LEVEL = 0.8
"""The level of the bands about an index."""

YEAR = 12

SPANS: tuple[int, ...] = (3, YEAR, 36)
"""The months over which the market's changes are reported, besides the whole time of the records."""

WALKED = "month"

FEWEST_SALES = 60
"""With fewer sales than this there is no index."""

FEWEST_STILL = 500
"""With fewer sales than this, a flat market cannot be seen from too little evidence."""

STILL = 0.005
"""The standard deviation of a year's walk (log price) below which a market is flat."""


@dataclass(frozen=True)
class IndexPoint:
    """The index in a period, which begins on `period`, with its 80 % band and the sales of the period."""

    period: date
    index: float
    low: float
    high: float
    sales: int


@dataclass(frozen=True)
class Change:
    """What prices did over so many months up to `until`: 1.10 is ten per cent up; 80 % band."""

    months: int
    since: date
    until: date
    factor: float
    low: float
    high: float


def first_of(month: int) -> date:
    """Return the first day of a month given as one running integer (12 · year + month − 1)."""
    return date(month // 12, month % 12 + 1, 1)


def month_walk(fit: Fit) -> str | None:
    """Return the name of the term that walks over months alone, or None where there is none.

    A flat walk over few records does not count: its variance of zero shows a lack of records, and a
    band around it would claim what nobody knows.
    """
    for factor in fit.design.factors:
        if factor.term.kind == "walk" and factor.term.columns == (WALKED,) and factor.size > 1:
            return factor.term.name if _carried(fit, factor.term.name) else None
    return None


def _carried(fit: Fit, term: str) -> bool:
    steps = {walk.term: walk.step_variance for walk in fit.walks}
    moves = sqrt(12 * steps.get(term, 0.0)) > STILL
    return fit.rows >= FEWEST_SALES and (moves or fit.rows >= FEWEST_STILL)


def first_month(fit: Fit, term: str) -> int:
    """Return the first month that has sales."""
    return int(min(float(key) for key in fit.factor(term).keys if key.lstrip("-").isdigit()))


def month_index(fit: Fit, *, as_of: date, base: date | None) -> tuple[date | None, tuple[IndexPoint, ...]]:
    """Return the index by month up to the month of `as_of`, and its base (where it is 100).

    The base is `base` where the records go back so far, else the first month. Without a walk over months
    there is no index: (None, ()).
    """
    term = month_walk(fit)
    if term is None:
        return None, ()
    first, last = first_month(fit, term), month_number(as_of)
    start = first if base is None else max(month_number(base), first)
    if last < first:
        return None, ()
    points = period_index(fit, [term], range(first, last + 1), base=min(start, last), level=LEVEL)
    return first_of(min(start, last)), index_points(points)


def index_points(points: pl.DataFrame, months: int = 1) -> tuple[IndexPoint, ...]:
    """Return the points of an index whose periods are so many months long, counted from year zero."""
    return tuple(
        IndexPoint(first_of(int(period) * months), index, low, high, sales)
        for period, index, low, high, sales in points.select(
            "period", "index", "low", "high", "records"
        ).iter_rows()
    )


def changes(fit: Fit, *, as_of: date) -> tuple[Change, ...]:
    """Return what the market did over SPANS and since the first month, up to the last month with sales.

    The band is that of the whole difference, so what both ends share does not count. Spans that reach
    beyond the records are left out.
    """
    term = month_walk(fit)
    if term is None:
        return ()
    first = first_month(fit, term)
    last = min(int(last_level(fit.factor(term))), month_number(as_of))
    whole = last - first
    spans = [span for span in SPANS if span < whole] + ([whole] if whole > 0 else [])
    return tuple(change_over(fit, [term], last - span, last) for span in spans)


def change_over(
    fit: Fit,
    terms: list[str],
    since: int,
    until: int,
    *,
    months: int = 1,
    within: dict[str, str] | None = None,
) -> Change:
    """Return what the walks named did between two periods, each `months` long."""
    row = period_index(fit, terms, [until], base=since, within=within, level=LEVEL).row(0, named=True)
    half = (row["high"] / row["index"]) if row["index"] else 1.0
    factor = exp(row["effect"])
    return Change(
        (until - since) * months,
        first_of(since * months),
        first_of(until * months),
        factor,
        factor / half,
        factor * half,
    )
