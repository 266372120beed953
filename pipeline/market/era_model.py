"""The chance of each era from what is seen of a pair, learned from the owner's records that state both.

The chances before anything is seen are multiplied, for each thing seen, by how often pairs of an era have it against
how often they would if it said nothing about the era: observed over expected within each silhouette, as an indirectly
standardised ratio is (Breslow & Day 1987, chapter 2), shrunk to 1 as by a gamma prior. Things that come together
(a box and its tags) would count twice: each kind counts with a weight, the exponents that predict best the records
left out of the counting (a logarithmic pool, Genest & Zidek 1986; the score is the logarithmic one of Good 1952).
Two kinds that say the same share their weight where both are seen; one that is seen alone has its own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import gammaln

from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.evidence import HALF_A_RECORD, SEEN

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

EXPECTED = 20.0
"""A ratio is halfway from 1 to what was observed once so many records were expected; 5 to 50 do as well in the demo."""

OF_ITS_OWN = 100.0
"""A silhouette's own ratio is halfway from that of all to its own once so many of its records were expected."""

ALIKE: tuple[float, ...] = (5.0, 10.0, 20.0, 40.0, 80.0)
"""How many records of a silhouette the shares of all may count as: the more, the more alike silhouettes are."""

CLEARLY = 2.0
"""How much log likelihood it must cost to take silhouettes for more alike: what ends a 95 % interval, nearly."""

FOLDS = 5
"""The records are divided into so many parts, and each is predicted from the others."""

PULL = 1.0
"""The precision of the Gaussian priors of weights, about 1, and of overlaps, about 0."""

WITHIN = ("colourway",)
"""What is named within its silhouette already, so that no silhouette differs from all others in it."""


@dataclass(frozen=True)
class Ratios:
    """Observed over expected of one kind of evidence: `pooled` (levels, eras), `own` (cells, eras).

    A cell is a level in a silhouette; `cells` holds their numbers, rising (silhouette × levels + level).
    """

    levels: Mapping[str, int]
    pooled: Array
    cells: Whole
    own: Array

    def of(self, silhouettes: Whole, levels: Whole) -> Array:
        """Return (rows, eras): the ratio of each row's level, 1 where it has none (−1)."""
        ratios = np.ones((len(levels), self.pooled.shape[1]))
        seen = levels >= 0
        ratios[seen] = self.pooled[levels[seen]]
        if len(self.cells):
            wanted = silhouettes * len(self.levels) + levels
            places = np.minimum(np.searchsorted(self.cells, wanted), len(self.cells) - 1)
            known = seen & (silhouettes >= 0) & (self.cells[places] == wanted)
            ratios[known] = self.own[places[known]]
        return ratios


@dataclass(frozen=True)
class Weights:
    """How far each kind of SEEN counts: its `own` exponent (kinds), over 1 + its `overlaps` (kinds, kinds; symmetric,
    zero on the diagonal) with the others that are seen.

    An overlap of 0 adds what both say; under one of 1, two that say the same count as one.
    """

    own: Array
    overlaps: Array

    def of(self, seen: NDArray[np.bool_]) -> Array:
        """Return (rows, kinds): the exponents of the rows of `seen` (rows, kinds)."""
        exponents: Array = self.own / (1 + seen @ self.overlaps)
        return exponents


@dataclass(frozen=True)
class EraModel:
    """What records say about eras: `records` of them; `prior` (eras), before anything is seen.

    `of_silhouette` (silhouettes, eras) multiplies the prior for each.
    """

    eras: tuple[str, ...]
    records: int
    prior: Array
    silhouettes: Mapping[str, int]
    of_silhouette: Array
    ratios: Mapping[str, Ratios]
    weights: Weights

    def start(self, levels: pl.DataFrame) -> Array:
        """Return (rows, eras): the log of the chances by silhouette alone, not yet summing to 1."""
        rows = _numbers(levels["silhouette"], self.silhouettes)
        factors = np.where(rows[:, None] >= 0, self.of_silhouette[rows], 1.0)
        start: Array = np.log(self.prior * factors)
        return start

    def evidence(self, levels: pl.DataFrame) -> Array:
        """Return (rows, kinds of SEEN, eras): the log of what each thing seen multiplies the chances by."""
        alone, seen = self.alone(levels)
        weighted: Array = alone * self.weights.of(seen)[:, :, None]
        return weighted

    def chances(self, levels: pl.DataFrame, years: Array | None = None) -> Array:
        """Return (rows, eras): the chance of each era.

        `levels` are those of `as_levels`; `years` (rows, eras) how likely each era's pairs are to be said to be of the
        years that the row says (`chances_of_years`), 1 where it says none.
        """
        logs = self.start(levels) + self.evidence(levels).sum(axis=1)
        return normalised(logs if years is None else logs + np.log(years))

    def alone(self, levels: pl.DataFrame) -> tuple[Array, NDArray[np.bool_]]:
        """Return (rows, kinds, eras): what each kind tells by itself; and (rows, kinds): whether it tells anything."""
        silhouettes = _numbers(levels["silhouette"], self.silhouettes)
        numbers = {name: _numbers(levels[name], ratios.levels) for name, ratios in self.ratios.items()}
        logs = [np.log(ratios.of(silhouettes, numbers[name])) for name, ratios in self.ratios.items()]
        return np.stack(logs, axis=1), np.stack([one >= 0 for one in numbers.values()], axis=1)


def learn_eras(
    levels: pl.DataFrame, eras: Sequence[str], prior: Mapping[str, float] | None = None
) -> EraModel:
    """Return the model that records teach.

    `levels` holds record_id, era and the columns of `as_levels`, one row a record, or a pair where it is known by more
    than one. `prior` are the owner's chances before anything is seen; left out, the shares of the records, with
    HALF_A_RECORD more of each era. The order of the rows changes nothing.
    """
    rows = levels.filter(pl.col("era").is_in(list(eras)), pl.col("silhouette").is_not_null()).sort(
        "record_id"
    )
    truth = _numbers(rows["era"], {era: number for number, era in enumerate(eras)})
    given = None if prior is None else np.array([prior[era] for era in eras])
    parts = np.arange(rows.height) % FOLDS
    left_out = [_count(rows.filter(parts != part), tuple(eras), given) for part in range(FOLDS)]
    own = [rows.filter(parts == part) for part in range(FOLDS)]
    alone = [model.alone(part) for model, part in zip(left_out, own, strict=True)]
    weights = _weights(
        np.concatenate([model.start(part) for model, part in zip(left_out, own, strict=True)]),
        np.concatenate([logs for logs, _ in alone]),
        np.concatenate([seen for _, seen in alone]),
        np.concatenate([truth[parts == part] for part in range(FOLDS)]),
    )
    return replace(_count(rows, tuple(eras), given), weights=weights)


def normalised(logs: Array) -> Array:
    """Return chances that sum to 1 over the last axis, in the proportion of their logarithms."""
    scaled = np.exp(logs - logs.max(axis=-1, keepdims=True))
    chances: Array = scaled / scaled.sum(axis=-1, keepdims=True)
    return chances


def _count(rows: pl.DataFrame, eras: tuple[str, ...], prior: Array | None) -> EraModel:
    """Return the model of these records with every weight 1."""
    count = len(eras)
    truth = _numbers(rows["era"], {era: number for number, era in enumerate(eras)})
    silhouettes = _numbered(rows["silhouette"])
    own = _numbers(rows["silhouette"], silhouettes)
    by_silhouette = _tally(own, truth, len(silhouettes), count)
    totals = by_silhouette.sum(axis=0)
    shares = (totals + HALF_A_RECORD) / (totals.sum() + count * HALF_A_RECORD)
    alike = _how_alike(by_silhouette, shares)
    smoothed = (by_silhouette + alike * shares) / (by_silhouette.sum(axis=1, keepdims=True) + alike)
    ratios = {name: _ratios(name, rows[name], own, truth, len(silhouettes), count) for name in SEEN}
    return EraModel(
        eras=eras,
        records=rows.height,
        prior=shares if prior is None else prior,
        silhouettes=silhouettes,
        of_silhouette=np.concatenate([smoothed / shares, np.ones((1, count))]),
        ratios=ratios,
        weights=Weights(np.ones(len(SEEN)), np.zeros((len(SEEN), len(SEEN)))),
    )


def _ratios(name: str, seen: pl.Series, own: Whole, truth: Whole, silhouettes: int, eras: int) -> Ratios:
    """Return observed over expected of one kind of evidence, from the records that state it."""
    levels = _numbered(seen)
    numbers = _numbers(seen, levels)
    stated = numbers >= 0
    numbers, own, truth = numbers[stated], own[stated], truth[stated]
    by_silhouette = _tally(own, truth, silhouettes, eras)
    shares = by_silhouette / np.maximum(by_silhouette.sum(axis=1, keepdims=True), 1)
    cells, places = np.unique(own * max(len(levels), 1) + numbers, return_inverse=True)
    observed = _tally(places, truth, len(cells), eras)
    expected = observed.sum(axis=1, keepdims=True) * shares[cells // max(len(levels), 1)]
    level_of_cell = cells % max(len(levels), 1)
    together = np.zeros((2, len(levels), eras))
    np.add.at(together[0], level_of_cell, observed)
    np.add.at(together[1], level_of_cell, expected)
    pooled = (together[0] + EXPECTED) / (together[1] + EXPECTED)
    if name in WITHIN:
        return Ratios(levels, pooled, np.zeros(0, dtype=np.int64), np.zeros((0, eras)))
    of_its_own = (observed + OF_ITS_OWN * pooled[level_of_cell]) / (expected + OF_ITS_OWN)
    return Ratios(levels, pooled, cells, of_its_own)


def _how_alike(by_silhouette: Array, shares: Array) -> float:
    """Return how many records the shares of all count as in a silhouette: the most that its records speak for.

    Each of ALIKE has the likelihood of the counts under a Dirichlet prior about the shares (the compound multinomial
    of Mosimann 1962); the greatest is taken that is not CLEARLY less likely than the best.
    """
    counts = by_silhouette.sum(axis=1)
    likelihoods = [
        float(
            np.sum(gammaln(alike) - gammaln(counts + alike))
            + np.sum(gammaln(by_silhouette + alike * shares) - gammaln(alike * shares))
        )
        for alike in ALIKE
    ]
    best = max(likelihoods)
    return max(alike for alike, value in zip(ALIKE, likelihoods, strict=True) if best - value <= CLEARLY)


def _weights(start: Array, alone: Array, seen: NDArray[np.bool_], truth: Whole) -> Weights:
    """Return the weights under which the records left out are most likely, with a PULL.

    Own exponents and overlaps lie from 0 to 1: what is shrunk is not stretched again, which made later chances too
    sure of themselves.
    """
    kinds = alone.shape[1]
    rows, pairs = np.arange(len(truth)), np.triu_indices(kinds, 1)
    there = seen.astype(np.float64)

    def taken_apart(values: Array) -> Weights:
        overlaps = np.zeros((kinds, kinds))
        overlaps[pairs] = values[kinds:]
        return Weights(values[:kinds], overlaps + overlaps.T)

    def loss(values: Array) -> tuple[float, Array]:
        weights = taken_apart(values)
        shared = 1 + there @ weights.overlaps
        exponents = weights.own / shared
        chances = normalised(start + np.einsum("nke,nk->ne", alone, exponents))
        by_exponent = np.einsum("nke,ne->nk", alone, chances) - alone[rows, :, truth]
        by_overlap = -(by_exponent * exponents / shared).T @ there
        off = np.concatenate([values[:kinds] - 1, values[kinds:]])
        slope = np.concatenate([(by_exponent / shared).sum(axis=0), (by_overlap + by_overlap.T)[pairs]])
        return (
            float(-np.log(chances[rows, truth]).sum() + PULL / 2 * (off @ off)),
            slope + PULL * off,
        )

    begin = np.concatenate([np.ones(kinds), np.zeros(len(pairs[0]))])
    if not len(truth):
        return taken_apart(begin)
    with one_blas_thread():
        found = minimize(loss, begin, jac=True, method="L-BFGS-B", bounds=[(0, 1)] * len(begin))
    return taken_apart(found.x)


def _tally(first: Whole, second: Whole, rows: int, columns: int) -> Array:
    """Return (rows, columns): how often each two numbers stand together."""
    tally: Array = (
        np.bincount(first * columns + second, minlength=rows * columns).reshape(rows, columns).astype(float)
    )
    return tally


def _numbered(texts: pl.Series) -> dict[str, int]:
    return {text: number for number, text in enumerate(texts.drop_nulls().unique().sort())}


def _numbers(texts: pl.Series, numbered: Mapping[str, int]) -> Whole:
    """Return the number of each text, −1 where it has none."""
    if not numbered:
        return np.full(len(texts), -1, dtype=np.int64)
    numbers = texts.replace_strict(dict(numbered), default=None, return_dtype=pl.Int64)
    found: Whole = numbers.fill_null(-1).to_numpy()
    return found
