"""The nearest past sales, each adjusted to the pair line by line."""

from math import exp

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.appraisal.appraisal import Adjustment, Comparable
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import log_prices_of_rows, step_variance, term_steps
from pipeline.hedonic.rows import TermRows, rows_by_term
from pipeline.market.attributes import ORDER, SINGULAR, TITLES, attribute_of, factor_texts

Array = NDArray[np.float64]

MOST = 12
SMALLEST = 5e-4
"""An adjustment of less than this in log price (0.05 %) is not worth a line, unless the value differs."""


def nearest_sales(
    fit: Fit, factors: pl.DataFrame, laid: tuple[TermRows, ...], sales: pl.DataFrame
) -> tuple[Comparable, ...]:
    """Return the sales nearest to the pair by the model's own metric, nearest first, each adjusted to the pair.

    The distance of a sale is in log price: the root of the sum of each attribute's squared
    difference, plus the variance of the whole difference. Two pairs that differ in what costs nothing are
    near; two that differ in what the model knows little of are far. `factors` has one row, and
    `laid` is its design row; `sales` has the columns of FACTORS and what a comparable shows. The product of an
    adjustment's factors and the price paid is the adjusted price.
    """
    if not sales.height:
        return ()
    theirs = rows_by_term(fit, sales)
    ours = tuple(term.repeated(sales.height) for term in laid)
    effects = _by_attribute(fit, term_steps(fit, theirs, ours))
    worth = np.sum([effect**2 for attribute, effect in effects.items() if attribute != "month"], axis=0)
    ranked = (
        sales.with_row_index("place")
        .with_columns(
            pl.Series("distance", np.sqrt(worth + np.maximum(step_variance(fit, theirs, ours), 0))),
            pl.Series(
                "residual", sales["log_price"].to_numpy() - log_prices_of_rows(fit, theirs, sales.height)
            ),
        )
        .sort("distance", "sold_on", "record_id", descending=[False, True, False])
        .head(MOST)
    )
    places = ranked["place"].to_numpy()
    return _adjusted(ranked, factors, {name: effect[places] for name, effect in effects.items()})


def _adjusted(
    nearest: pl.DataFrame, factors: pl.DataFrame, effects: dict[str, Array]
) -> tuple[Comparable, ...]:
    """Return the sales with what each attribute's difference from the pair is worth (log price), line by line."""
    theirs, ours = factor_texts(nearest), factor_texts(factors)
    comparables: list[Comparable] = []
    for row, sale in enumerate(nearest.iter_rows(named=True)):
        lines = tuple(
            Adjustment(
                TITLES.get(name, SINGULAR.get(name, name)),
                theirs[name][row],
                ours[name][0],
                exp(effects[name][row]),
            )
            for name in ORDER
            if name in effects and (theirs[name][row] != ours[name][0] or abs(effects[name][row]) > SMALLEST)
        )
        total = sum(float(effect[row]) for effect in effects.values())
        comparables.append(
            Comparable(
                record_id=sale["record_id"],
                title=sale["title"],
                venue=sale["venue"],
                sold_on=sale["sold_on"],
                price_paid=sale["price_paid"],
                adjustments=lines,
                adjusted_price=sale["price_paid"] * exp(total),
                distance=sale["distance"],
                residual=sale["residual"],
                attributes={name: texts[row] for name, texts in theirs.items()},
            )
        )
    return tuple(comparables)


def _by_attribute(fit: Fit, steps: Array) -> dict[str, Array]:
    """Return attribute → (records,): the sum of the steps (records, terms) of its terms."""
    summed: dict[str, Array] = {}
    for place, factor in enumerate(fit.design.factors):
        attribute = attribute_of(factor.term.columns)
        summed[attribute] = summed.get(attribute, 0.0) + steps[:, place]
    return summed
