"""The nearest past sales, each adjusted to the pair line by line."""

from math import exp

import numpy as np
import polars as pl

from pipeline.decisions.appraisal import Adjustment, Comparable
from pipeline.decisions.attributes import ORDER, SINGULAR, TITLES, attribute_of, factor_texts
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import compare, differences, predict

MOST = 12
SMALLEST = 5e-4
"""An adjustment of less than this in log price (0.05 %) is not worth a line, unless the value differs."""


def nearest_sales(fit: Fit, factors: pl.DataFrame, sales: pl.DataFrame, *, most: int = MOST) -> pl.DataFrame:
    """Return the sales nearest to the pair by the model's own metric, nearest first.

    The distance of a sale is in log price: the root of the squared worth of each attribute's difference,
    summed, plus the variance of the whole difference. Two pairs that differ in what costs nothing are
    near; two that differ in what the model knows badly are far. `factors` has one row; `sales` the
    columns of FACTORS and what a comparable shows. Adds `distance` and `residual`.
    """
    if not sales.height:
        return sales.with_columns(distance=pl.lit(None, pl.Float64), residual=pl.lit(None, pl.Float64))
    columns = {factor.term.name: factor.term.columns for factor in fit.design.factors}
    subject = factors[[0] * sales.height]
    owner = {name: attribute_of(read) for name, read in columns.items()}
    worth = (
        compare(fit, sales, subject)
        .with_columns(pl.col("term").replace_strict(owner).alias("attribute"))
        .filter(pl.col("attribute") != "month")
        .group_by("row", "attribute", maintain_order=True)
        .agg(pl.col("effect").sum())
        .group_by("row", maintain_order=True)
        .agg((pl.col("effect") ** 2).sum().alias("worth"))
        .sort("row")
    )
    error = differences(fit, sales, subject)["error"].to_numpy()
    fitted = predict(fit, sales)["log_price"]
    ranked = sales.with_columns(
        pl.Series("distance", np.sqrt(worth["worth"].to_numpy() + error**2)),
        pl.Series("residual", sales["log_price"] - fitted),
    )
    return ranked.sort("distance", "sold_on", "record_id", descending=[False, True, False]).head(most)


def adjust(fit: Fit, factors: pl.DataFrame, nearest: pl.DataFrame) -> tuple[Comparable, ...]:
    """Return each of the nearest sales with its adjustments to the pair (`factors`, one row).

    The product of an adjustment's factors and the price paid is the adjusted price.
    """
    if not nearest.height:
        return ()
    columns = {factor.term.name: factor.term.columns for factor in fit.design.factors}
    owner = {name: attribute_of(read) for name, read in columns.items()}
    subject = factors[[0] * nearest.height]
    effects = (
        compare(fit, nearest, subject)
        .with_columns(pl.col("term").replace_strict(owner).alias("attribute"))
        .group_by("row", "attribute", maintain_order=True)
        .agg(pl.col("effect").sum())
    )
    effect = {(row, attribute): size for row, attribute, size in effects.iter_rows()}
    theirs, ours = factor_texts(nearest), factor_texts(subject)
    comparables: list[Comparable] = []
    for row, sale in enumerate(nearest.iter_rows(named=True)):
        lines = tuple(
            Adjustment(
                TITLES.get(name, SINGULAR.get(name, name)),
                theirs[name][row],
                ours[name][row],
                exp(effect[(row, name)]),
            )
            for name in ORDER
            if (row, name) in effect
            and (theirs[name][row] != ours[name][row] or abs(effect[(row, name)]) > SMALLEST)
        )
        total = sum(size for (at, _), size in effect.items() if at == row)
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
            )
        )
    return tuple(comparables)
