"""Attributes of which not knowing them changes a price as no known value does: what to look at is named."""

from dataclasses import dataclass
from math import exp, log

import polars as pl

from pipeline.hedonic.predict import predict
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


def strange_unknowns(fitted: FittedMarket, sales: pl.DataFrame) -> tuple[StrangeUnknown, ...]:
    """Return the attributes whose unknown level has an effect far beyond those of the known ones.

    `sales` are those of the fit (columns of sql/marts/priced_sales.sql). Such a level is made of sales that are no
    pairs (repairs, laces, single shoes) or that were misread more often than of pairs that nobody described.
    """
    terms = [
        term
        for term in fitted.fit.specification.terms
        if len(term.columns) == 1 and term.kind not in ("walk", "linear")
    ]
    return tuple(found for term in terms if (found := _strange(fitted, term, sales)) is not None)


def _strange(fitted: FittedMarket, term: Term, sales: pl.DataFrame) -> StrangeUnknown | None:
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
    of_unknown = _without(term.columns[0], sales)
    off = of_unknown["log_price"] - predict(fitted.fit, of_unknown)["log_price"]
    titles = of_unknown.with_columns(off=pl.Series(off)).sort(
        "off", "record_id", descending=[effect > 0, False]
    )
    return StrangeUnknown(
        attribute=TITLES.get(term.columns[0], term.columns[0]),
        factor=exp(effect),
        farthest=exp(farthest),
        sales=of_unknown.height,
        titles=tuple(titles["title"].head(MOST_SALES)),
    )


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
