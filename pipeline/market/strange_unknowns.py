"""Attributes of which not knowing them changes a price as no known value does: what to look at is named."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, log

import polars as pl

from pipeline.hedonic.predict import log_prices
from pipeline.hedonic.specification import Term
from pipeline.market.attributes import SINGULAR, TITLES
from pipeline.market.fitted_market import FittedMarket
from pipeline.schema import UNKNOWN

FARTHEST = 2.0
"""An unknown value is strange from so many times the distance of the farthest known value …"""

LEAST = log(1.5)
"""… and at least this far, in log price, from what the known values are worth on average …"""

SURE = 2.0
"""… by so many standard errors."""

MOST_SALES = 5
"""The sales that are named, the strangest first."""

NO_TITLES = pl.DataFrame(schema={"record_id": pl.String, "title": pl.String, "off": pl.Float64})


@dataclass(frozen=True)
class StrangeUnknown:
    """What not knowing an attribute does to a price, as a factor, where no known value does as much.

    `factor` is against the average of the known values, `farthest` the factor of the known value that is farthest from
    it; `sales` have no value of the attribute, `titles` are those whose prices are the farthest out.
    """

    attribute: str
    factor: float
    farthest: float
    sales: int
    titles: tuple[str, ...]


@dataclass(frozen=True)
class _Strange:
    """A column whose unknown level has the effect `effect` where the farthest known one has `farthest` (log price)."""

    column: str
    effect: float
    farthest: float


def strange_unknowns(fitted: FittedMarket, sales: Iterable[pl.DataFrame]) -> tuple[StrangeUnknown, ...]:
    """Return the attributes whose unknown level has an effect far beyond those of the known ones.

    `sales` are those of the fit, in any parts (columns of sql/marts/priced_sales.sql), read only where there is such a
    level. It is made of sales that are no pairs (repairs, laces, single shoes) or that were misread more often than of
    pairs that nobody described.
    """
    strange = [
        found
        for term in fitted.fit.specification.terms
        if len(term.columns) == 1 and term.kind not in ("walk", "linear")
        if (found := _strange(fitted, term)) is not None
    ]
    if not strange:
        return ()
    counts, farthest = [0] * len(strange), [NO_TITLES] * len(strange)
    for part in sales:
        for number, one in enumerate(strange):
            of_unknown = _without(one.column, part)
            counts[number] += of_unknown.height
            farthest[number] = _farthest(
                one, pl.concat([farthest[number], _with_distance(fitted, of_unknown)])
            )
    return tuple(
        StrangeUnknown(
            attribute=TITLES.get(one.column, one.column),
            factor=exp(one.effect),
            farthest=exp(one.farthest),
            sales=count,
            titles=tuple(titles["title"]),
        )
        for one, count, titles in zip(strange, counts, farthest, strict=True)
    )


def _strange(fitted: FittedMarket, term: Term) -> _Strange | None:
    """Return what is strange of the unknown level of a term, None where nothing is."""
    effects = fitted.fit.effects.filter(pl.col("term") == term.name, pl.col("role") != "left out")
    unknown, known = effects.filter(pl.col("level") == UNKNOWN), effects.filter(pl.col("level") != UNKNOWN)
    if unknown.is_empty() or known.is_empty():
        return None
    usual = 0.0 if term.columns[0] in SINGULAR else _mean(known)
    effect, error = float(unknown["effect"][0]) - usual, float(unknown["error"][0])
    apart = known["effect"] - usual
    farthest = max(apart, key=abs)
    if abs(effect) < max(FARTHEST * abs(farthest), LEAST, SURE * error):
        return None
    return _Strange(term.columns[0], effect, farthest)


def _with_distance(fitted: FittedMarket, sales: pl.DataFrame) -> pl.DataFrame:
    """Return the titles of sales, with how far their prices are from those of the fit."""
    off = sales["log_price"] - pl.Series(log_prices(fitted.fit, sales))
    return sales.select("record_id", "title", off=off)


def _farthest(one: _Strange, titles: pl.DataFrame) -> pl.DataFrame:
    """Return the sales that are named, the strangest first."""
    return titles.sort("off", "record_id", descending=[one.effect > 0, False]).head(MOST_SALES)


def _mean(known: pl.DataFrame) -> float:
    """Return the effect of the known levels on average, each counted by its sales."""
    weighed = pl.col("effect") * pl.col("rows")
    return float(known.select(weighed.sum() / pl.col("rows").sum().clip(lower_bound=1)).item())


def _without(column: str, sales: pl.DataFrame) -> pl.DataFrame:
    """Return the sales of which an attribute is not known."""
    said = pl.col(column)
    if sales.schema[column] == pl.String:
        return sales.filter(said.is_null() | (said == UNKNOWN))
    return sales.filter(said.is_null())
