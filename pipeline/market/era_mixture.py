"""Prices of pairs whose era is in doubt: the mixture of what they sell for in each era, by its chances."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.market.fitted_market import FittedMarket
from pipeline.market.price_distribution import CHANCES, PriceDistribution, price_distribution

Array = NDArray[np.float64]

GRID: tuple[float, ...] = (0.0025, 0.005, *(step / 100 for step in range(1, 100)), 0.995, 0.9975)
"""The chances at which the distribution of an era's price is drawn; beyond them there is nothing."""


@dataclass(frozen=True)
class EraChances:
    """The pairs of a list whose era is in doubt: their `rows` in it, rising, and (rows, eras) the chances of each."""

    rows: NDArray[np.int64]
    eras: tuple[str, ...]
    chances: Array


@dataclass(frozen=True, kw_only=True)
class MixedPrices(PriceDistribution):
    """Price distributions of which some are mixtures: `mixed` are their rows, rising, `quantiles` (mixed, GRID) theirs.

    All others are those that are `known`.
    """

    known: PriceDistribution
    mixed: NDArray[np.int64]
    quantiles: Array

    @classmethod
    def of(cls, known: PriceDistribution, mixed: NDArray[np.int64], quantiles: Array) -> "MixedPrices":
        """Return known distributions, the `mixed` of them replaced by mixtures."""
        same = {one.name: getattr(known, one.name) for one in fields(PriceDistribution)}
        centre = known.centre.copy()
        centre[mixed] = _at(quantiles, 0.5)[:, 0]
        return cls(**(same | {"centre": centre}), known=known, mixed=mixed, quantiles=quantiles)

    def quantile(self, chance: float) -> Array:
        """Return the log price below which each pair sells with that chance."""
        prices = self.known.quantile(chance).copy()
        prices[self.mixed] = _at(self.quantiles, chance)[:, 0]
        return prices

    @cached_property
    def table(self) -> Array:
        """Return (pairs, CHANCES): the quantiles of each pair, rising."""
        table = self.known.table.copy()
        table[self.mixed] = _at(self.quantiles, CHANCES)
        return table

    def uncalibrated(self) -> PriceDistribution:
        """Return the distributions as the model has them, the mixed ones with the era that nobody states."""
        return self.known.uncalibrated()

    def rows(self, rows: NDArray[np.integer[Any]]) -> "MixedPrices":
        """Return the distributions of some of the pairs."""
        mixed = np.flatnonzero(np.isin(rows, self.mixed))
        return MixedPrices.of(
            self.known.rows(rows), mixed, self.quantiles[np.searchsorted(self.mixed, rows[mixed])]
        )


def mix_eras(
    known: PriceDistribution,
    doubt: EraChances | None,
    fitted: FittedMarket,
    factors: pl.DataFrame,
) -> PriceDistribution:
    """Return what pairs (`factors`) may sell for, those in `doubt` by the chances of their eras.

    `known` are the distributions of all of them with the era that is stated, or none (see `price_distribution`).
    """
    if doubt is None or not len(doubt.rows):
        return known
    eras = len(doubt.eras)
    of_each = factors[np.repeat(doubt.rows, eras)].with_columns(
        era=pl.Series("era", doubt.eras * len(doubt.rows), dtype=pl.String)
    )
    by_era = price_distribution(fitted, of_each)
    drawn = draw_quantiles(by_era).reshape(len(doubt.rows), eras, len(GRID))
    grid = np.array(GRID)
    quantiles = [
        mixture_quantiles([(grid, era) for era in own], chances, GRID)
        for own, chances in zip(drawn, doubt.chances, strict=True)
    ]
    return MixedPrices.of(known, doubt.rows, np.stack(quantiles))


def draw_quantiles(prices: PriceDistribution) -> Array:
    """Return (pairs, GRID): the log prices of each pair at the chances of the GRID, rising."""
    return np.maximum.accumulate(np.stack([prices.quantile(chance) for chance in GRID], axis=1), axis=1)


def mixture_quantiles(
    quantiles: Sequence[tuple[Array, Array]], chances: Array, wanted: float | Sequence[float]
) -> Array:
    """Return the values below which the mixture lies with the chances `wanted`.

    `quantiles` holds (chances, values), both rising, of each distribution; outside them there is nothing.
    """
    places = np.unique(np.concatenate([values for _, values in quantiles]))
    below = sum(
        weight * np.interp(places, values, cumulated, left=0.0, right=1.0)
        for weight, (cumulated, values) in zip(chances, quantiles, strict=True)
    )
    return np.asarray(np.interp(np.asarray(wanted), below, places))


def _at(quantiles: Array, chances: float | Sequence[float]) -> Array:
    """Return (rows, chances): the quantiles in the GRID at some chances."""
    wanted = np.atleast_1d(chances)
    return np.array([np.interp(wanted, GRID, own) for own in quantiles]).reshape(len(quantiles), len(wanted))
