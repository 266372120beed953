"""The fit as the pricing page carries it: terms, coefficients, covariance, scatter, and the bands' scores.

reports/pricing/model.js reads it. Of the covariance only the entries that a value can need are carried: a
pair has one silhouette, so those of two different silhouettes are left out.
"""

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import ReportError
from pipeline.hedonic.bands import root_precision
from pipeline.hedonic.design import Factor
from pipeline.hedonic.distributions import student_chance, student_quantile
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.layout import ordered_groups
from pipeline.hedonic.levels import SEPARATOR
from pipeline.hedonic.rows import slope_row, unseen_variance
from pipeline.hedonic.scales import least_error
from pipeline.hedonic.second_stage import BITS, LEAF, reading_of
from pipeline.market.attributes import attribute_of
from pipeline.market.bands import band_scores
from pipeline.market.fitted_market import FittedMarket

Whole = NDArray[np.int64]

SILHOUETTE = "silhouette"
MOST_ENTRIES = 300_000
"""The most entries of the covariance that a page carries, of four bytes each."""

NOWHERE = -1
"""The position of a level without a coefficient of its own."""

NO_QUESTION = 255
"""What a leaf of the trees asks, in one byte."""


@dataclass(frozen=True)
class Carried:
    """Which coefficients the page carries, and at which positions.

    `order` (k,) holds the numbers of the coefficients as the page has them: first the `common` ones, then
    those of each silhouette together; `first` (k,) where the silhouette's own begin (`common` for the
    common ones). `silhouettes` are those whose effects are carried.
    """

    order: Whole
    common: int
    first: Whole
    silhouettes: tuple[str, ...]

    @property
    def entries(self) -> Whole:
        """Return how many entries of the covariance each row holds: the common ones, then the silhouette's own."""
        places = np.arange(len(self.order))
        return np.where(places < self.common, places + 1, self.common + places - self.first + 1)


def choose_carried(fit: Fit, silhouettes: Sequence[str], *, most: int = MOST_ENTRIES) -> Carried:
    """Choose the coefficients that the page carries: all common ones, and those of as many silhouettes as fit `most`.

    `silhouettes` come in the order in which they are wanted. Raises ReportError where the common ones alone
    are too many.
    """
    owners = _owners(fit)
    common = np.flatnonzero(owners == "")
    count = len(common)
    left = most - count * (count + 1) // 2
    if left < 0:
        raise ReportError(
            f"the fit has {count} effects beside those of silhouettes, too many for a page",
            "value pairs with `pairband appraise`, or give the market file a model with fewer terms.",
        )
    order, first, kept = [common], [np.full(count, count)], []
    start = count
    for silhouette in silhouettes:
        own = np.flatnonzero(owners == silhouette)
        left -= len(own) * count + len(own) * (len(own) + 1) // 2
        if left < 0:
            break
        order.append(own)
        first.append(np.full(len(own), start))
        start += len(own)
        kept.append(silhouette)
    return Carried(np.concatenate(order), count, np.concatenate(first), tuple(kept))


def fit_document(fit: Fit, carried: Carried) -> dict[str, Any]:
    """Return the fit in the parts that a prediction reads, JSON-able; arrays are base64 of little-endian floats."""
    places = np.full(fit.layout.size + 1, NOWHERE, dtype=np.int64)
    places[carried.order] = np.arange(len(carried.order))
    rows = np.repeat(np.arange(len(carried.order)), carried.entries)
    within = np.arange(len(rows)) - np.repeat(np.cumsum(carried.entries) - carried.entries, carried.entries)
    columns = np.where(within < carried.common, within, within - carried.common + carried.first[rows])
    once = np.ones((len(rows), 1))
    covariance = fit.covariance.bilinear(
        carried.order[rows][:, None], once, carried.order[columns][:, None], once
    )
    return {
        "terms": [_term(fit, factor, places, carried.silhouettes) for factor in fit.design.factors],
        "coefficients": packed(fit.coefficients[carried.order], "<f8"),
        "covariance": packed(covariance, "<f4"),
        "common": carried.common,
        "first": carried.first.tolist(),
        "rows": fit.rows,
    }


def scatter_document(scatter: Fit) -> dict[str, Any]:
    """Return the fit of the errors' log scale: terms and coefficients; its errors are not needed."""
    places = np.append(np.arange(scatter.layout.size), NOWHERE)
    return {
        "terms": [_term(scatter, factor, places, None) for factor in scatter.design.factors],
        "coefficients": packed(scatter.coefficients, "<f8"),
        "rows": scatter.rows,
    }


def score_document(
    fitted: FittedMarket, levels: Sequence[float], groups: Sequence[str]
) -> list[dict[str, Any]]:
    """Return one entry a level: its share, the least distance of each end, and each group's two ends.

    An end is (its sign, the chance that lies below its size, the Student-t and the Gaussian quantile there).
    """
    freedom = fitted.fit.degrees_of_freedom
    found = []
    for level in levels:
        low, high = band_scores(fitted, level, groups)
        ends = [
            {"low": _end(float(one), freedom), "high": _end(float(other), freedom)}
            for one, other in zip(low, high, strict=True)
        ]
        by_group = dict(zip(groups, ends, strict=True))
        found.append({"level": level, "least": least_error(level), "groups": by_group})
    return found


def mixture_document(freedom: float) -> dict[str, list[float]] | None:
    """Return the nodes and weights over which Student-t (`freedom` degrees) mixes Gaussians; None where it is one."""
    if np.isinf(freedom):
        return None
    nodes, weights = root_precision(freedom)
    return {"nodes": nodes.tolist(), "weights": weights.tolist()}


def trees_document(fitted: FittedMarket, carried: Carried) -> dict[str, Any] | None:
    """Return the trees of the second stage with the share of them that counts; None where it is not used.

    A node has one number: its threshold, or the value of a leaf. Its ways are so many nodes after it.
    """
    if fitted.trees is None:
        return None
    trees, stage, fit = fitted.trees, fitted.second_stage, fitted.fit
    factors = {factor.term.name: factor for factor in fit.design.factors}
    questions = [
        question._asdict()
        | {"answers": _answers(fit, factors[question.term], carried) if question.term else []}
        for question in trees.questions
    ]
    leaf = trees.question == LEAF
    nodes = np.arange(len(leaf))
    return {
        "attributes": list(trees.attributes),
        "questions": questions,
        "start": trees.start,
        "stands_for": trees.stands_for,
        "width": trees.width,
        "bits": BITS,
        "leaf": NO_QUESTION,
        "share": stage.share,
        "share_error": stage.share_error,
        "arrays": {
            "roots": packed(trees.roots, "<f4"),
            "question": packed(np.where(leaf, NO_QUESTION, trees.question), "<u1"),
            "left": packed(np.where(leaf, 0, trees.left - nodes), "<u1"),
            "right": packed(np.where(leaf, 0, trees.right - nodes), "<u1"),
            "unknown": packed(trees.unknown, "<u1"),
            "words": packed(trees.words, "<f4"),
            "number": packed(np.where(leaf, trees.value, trees.threshold), "<f4"),
        },
    }


def _answers(fit: Fit, factor: Factor, carried: Carried) -> list[list[float | None]]:
    """Return [place among those carried, what it answers or None for unknown] for each coefficient of a term."""
    answers = reading_of(fit, factor).answers
    own = fit.layout.positions[factor.start : factor.stop]
    at = {int(position): place for place, position in enumerate(carried.order)}
    return [
        [at[position], None if np.isnan(answers[position]) else float(answers[position])]
        for position in own.tolist()
        if position in at
    ]


def packed(values: NDArray[Any], dtype: str) -> str:
    """Return an array as base64 of its bytes in a dtype."""
    return base64.b64encode(values.astype(dtype).tobytes()).decode()


def _end(score: float, freedom: float) -> list[float]:
    chance = student_chance(abs(score), freedom)
    return [float(np.sign(score)), chance, abs(score), student_quantile(chance, np.inf)]


def _owners(fit: Fit) -> NDArray[np.object_]:
    """Return (p,) the silhouette that each coefficient belongs to, "" for those of none."""
    owners = np.full(fit.layout.size + 1, "", dtype=object)
    for factor in fit.design.factors:
        if SILHOUETTE in factor.term.columns:
            part = factor.term.columns.index(SILHOUETTE)
            own = [key.split(SEPARATOR)[part] for key in factor.keys]
            owners[fit.layout.positions[factor.start : factor.stop]] = own
    return owners[:-1]


def _term(fit: Fit, factor: Factor, places: Whole, silhouettes: tuple[str, ...] | None) -> dict[str, Any]:
    """Return a term with its levels; those of silhouettes that are not carried are left out."""
    columns = factor.term.columns
    kept = np.arange(factor.size)
    if silhouettes is not None and SILHOUETTE in columns:
        part = columns.index(SILHOUETTE)
        own = np.array([key.split(SEPARATOR)[part] for key in factor.keys], dtype=object)
        kept = np.flatnonzero(np.isin(own, np.array(silhouettes, dtype=object)))
    term_lambda = fit.lambdas.get(factor.term.name)
    ordered = factor.axis is not None
    local = {int(number): at for at, number in enumerate(kept)}
    return {
        "name": factor.term.name,
        "kind": factor.term.kind,
        "columns": list(columns),
        "attribute": attribute_of(columns),
        "many": factor.many,
        "keys": [factor.keys[number] for number in kept],
        "positions": places[fit.layout.positions[factor.start + kept]].tolist(),
        "records": factor.rows[kept].tolist(),
        "unseen": unseen_variance(fit, factor),
        "noise": 0.0 if term_lambda is None else fit.sigma2 / term_lambda,
        "groups": _groups(factor, local) if ordered else None,
        "trend": _trend(fit, factor, places),
    }


def _trend(fit: Fit, factor: Factor, places: Whole) -> dict[str, Any] | None:
    """Return the trend of a walk: its damping, the lag of each level, and its slope's [position, weight]."""
    if fit.trend is None or fit.trend.term != factor.term.name:
        return None
    positions, weights = slope_row(fit, fit.trend)
    slope = [
        [position, weight]
        for position, weight in zip(places[positions].tolist(), weights.tolist(), strict=True)
        if position >= 0
    ]
    return {"damping": fit.trend.damping, "lags": list(fit.trend.lags), "slope": slope}


def _groups(factor: Factor, local: dict[int, int]) -> dict[str, dict[str, list[float]]]:
    """Return each curve or walk of an ordered term: its levels' places, and their numbers among the keys."""
    axis = np.zeros(0) if factor.axis is None else factor.axis
    found = {}
    for members, reference in ordered_groups(factor):
        carried = [int(number) for number in members if int(number) in local]
        if carried:
            group = "" if factor.groups is None else factor.groups[reference]
            found[group] = {
                "places": [float(axis[number]) for number in carried],
                "levels": [float(local[number]) for number in carried],
            }
    return found
