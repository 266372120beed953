"""What changed: the value of each pair then and now, with the change split into what caused it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import combinations
from math import factorial

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.market.fitted_market import Source

Array = NDArray[np.float64]
Causes = frozenset[str]
"""Some of the causes of a change; all others are as they were."""

MARKET, NEW_SALES, PUT_RIGHT, MARKET_FILE, PAIR = (
    "market",
    "new_sales",
    "put_right",
    "market_file",
    "attributes",
)
PARTS: tuple[str, ...] = (MARKET, NEW_SALES, PUT_RIGHT, MARKET_FILE, PAIR)
"""What a change is split into. Each is a column of `Changed.pairs`."""


@dataclass(frozen=True)
class Changed:
    """What the pairs of a list were worth on the day `since`, what they are worth on `as_of`, and why that differs.

    `pairs` has one row a pair, money in `currency`: row_number, stock_ref, silhouette, colourway, era, then, now,
    change, share (of the value then), one column for each of PARTS, which add up to the change, market_error (the
    standard error of the market's part) and differs (what of the pair itself is not as it was, or null). `moved_by` has
    one row a pair and new sale, those that moved the pair's value most: row_number, stock_ref, record_id, sale,
    sold_on, price_paid, moved (money), share; `moved_together` has the same of all pairs, one row a sale. `causes` are
    those of PARTS that there were, the market among them; `records` counts the sales behind each of them, `settings`
    names what of the market file is not as it was. `earlier` is the fit then, `source` the latest.
    """

    since: date
    as_of: date
    currency: str
    pairs: pl.DataFrame
    moved_by: pl.DataFrame
    moved_together: pl.DataFrame
    causes: tuple[str, ...]
    records: dict[str, int]
    settings: tuple[str, ...]
    cautions: tuple[str, ...]
    earlier: Source
    source: Source


def subsets(causes: Iterable[str]) -> tuple[Causes, ...]:
    """Return every choice of some causes, none and all among them."""
    listed = tuple(causes)
    return tuple(
        frozenset(chosen) for size in range(len(listed) + 1) for chosen in combinations(listed, size)
    )


def split_change(values: Mapping[Causes, Array]) -> dict[str, Array]:
    """Return what each cause adds to the value (log price) of each pair; they add up to the whole step.

    `values` has the value with every choice of the causes (see `subsets`). A cause adds the mean of what it adds after
    each choice of the others, over all orders in which they can come (Shapley 1953): one that changes nothing adds
    exactly zero, and no order goes before another.
    """
    causes = max(values, key=len)
    orders = factorial(len(causes))
    parts = {}
    for cause in sorted(causes):
        steps = [
            factorial(len(before))
            * factorial(len(causes) - len(before) - 1)
            * (values[before | {cause}] - values[before])
            for before in values
            if cause not in before
        ]
        parts[cause] = np.sum(steps, axis=0) / orders
    return parts


def in_money(then: Array, now: Array, parts: Array) -> tuple[Array, Array, Array]:
    """Return (value then, value now, (pairs, parts) of the change) in money.

    Values and parts are given in log price, the parts adding up to the step. A part's money is it times the
    logarithmic mean of both values (Ang 2004, Energy Policy 32), so that the parts add up to the change.
    """
    return np.exp(then), np.exp(now), parts * logarithmic_mean(then, now)[:, None]


def rounded(pairs: pl.DataFrame, decimals: int) -> pl.DataFrame:
    """Return then, now, change, PARTS and market_error rounded to so many decimals, the parts adding up to the change.

    What rounding takes goes to the largest part of the row.
    """
    unit = 10.0**decimals
    then, now = (np.rint(pairs[name].to_numpy() * unit) for name in ("then", "now"))
    exact = pairs.select(PARTS).to_numpy()
    parts = np.rint(exact * unit)
    rows = np.arange(len(parts))
    parts[rows, np.abs(exact).argmax(axis=1)] += (now - then) - parts.sum(axis=1)
    found = {"then": then, "now": now, "change": now - then} | dict(zip(PARTS, parts.T, strict=True))
    return pairs.with_columns(
        *(pl.Series(name, values / unit, dtype=pl.Float64) for name, values in found.items()),
        pl.col("market_error").round(decimals),
    )


def logarithmic_mean(then: Array, now: Array) -> Array:
    """Return the logarithmic mean of exp(then) and exp(now): their difference over that of their logarithms."""
    step = now - then
    near = np.abs(step) < 1e-9
    mean: Array = np.exp(then) * np.where(near, 1.0, np.expm1(step) / np.where(near, 1.0, step))
    return mean


def together(pairs: pl.DataFrame) -> pl.DataFrame:
    """Return the sums of then, now, change, PARTS and market_error over all pairs, as one row.

    All pairs share one market, so the errors of its parts add up too.
    """
    return pairs.select("then", "now", "change", *PARTS, "market_error").sum()
