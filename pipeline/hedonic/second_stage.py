"""The second stage: what a pair's attributes are worth together, beyond the sum of what each is worth.

Gradient-boosted regression trees (Friedman 2001, Annals of Statistics 29) on what a fit leaves of earlier sales. A tree
asks what an attribute is worth by the fit, in log price, so that the levels of a name stand in an order and one that
was never sold stands where the fit puts it. Used only where errors in time order fall by it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import factorial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.rows import TermRows

if TYPE_CHECKING:
    from sklearn.ensemble import HistGradientBoostingRegressor

Array = NDArray[np.float64]
Places = NDArray[np.int64]

CLIP = 1.0
"""A residual counts for no more than so many scales of it: near to the least absolute error, and still a mean."""

MOST_SHARE = 1.5
"""What trees say counts for this at most: for more than all of it, since they learn from clipped residuals."""

LEAVES = 31
FEWEST_IN_LEAF = 20
TRIED_ATTRIBUTES = 0.6
"""The share of the attributes that a split may choose from."""

PLACES = ("roots", "attribute", "left", "right")
NUMBERS = ("threshold", "value")
"""The arrays of trees: whole numbers, and those in log price."""

LEAF = -1
"""The attribute of a node that is a leaf."""

BLOCK = 2_048
"""So many records are led through the trees at a time."""

Z_95_ONE_SIDED = 1.6448536269514722
"""The normal quantile of 95 %: the gain must exceed its own sampling error by so much."""

FEWEST_PERIODS = 8


@dataclass(frozen=True)
class Growth:
    """How many trees are grown, and the share of each that counts."""

    trees: int
    rate: float


WHOLE = Growth(300, 0.1)
TRIAL = Growth(30, 0.3)
"""A tenth of the work: where not even these gain, no others are grown."""


@dataclass(frozen=True)
class SecondStage:
    """Whether what the trees say is used, and which share of it.

    `share` of it is added to the log price where `used`; `share_error` is its standard error, one at most. `gain` is
    the fall of the mean absolute error (log price) in time order, `error` its standard error over periods. It is used
    if and only if the gain exceeds Z_95_ONE_SIDED times its error.
    """

    used: bool
    share: float
    gain: float
    error: float
    share_error: float = 0.0


UNUSED = SecondStage(False, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Left:
    """What a fit leaves of records, in log price.

    `worth` (records, attributes) says what each attribute is worth, `residuals` and their `scales` (records,) the rest.
    """

    attributes: tuple[str, ...]
    worth: Array
    residuals: Array
    scales: Array

    def taken(self, rows: Places) -> "Left":
        """Return that of some of the records."""
        return Left(self.attributes, self.worth[rows], self.residuals[rows], self.scales[rows])


@dataclass(frozen=True)
class Trees:
    """Regression trees over what each of `attributes` is worth; a record's value is `start` and the sum of its leaves.

    `roots` (trees,) are places among the nodes. At a node (nodes,) a record goes `left` where the worth of its
    `attribute` is no more than the `threshold`, else `right`; a leaf's attribute is LEAF, and it adds its `value`.
    """

    attributes: tuple[str, ...]
    start: float
    roots: Places
    attribute: Places
    threshold: Array
    left: Places
    right: Places
    value: Array

    def broken(self) -> str:
        """Return why these are no trees that come to an end; nothing where they are."""
        nodes, inner = len(self.attribute), self.attribute != LEAF
        if any(len(part) != nodes for part in (self.threshold, self.left, self.right, self.value)):
            return "its nodes have parts of different lengths"
        if np.any((self.attribute < LEAF) | (self.attribute >= len(self.attributes))):
            return "a node asks for an attribute that there is not"
        if np.any((self.roots < 0) | (self.roots >= nodes)):
            return "a root is no node"
        below = np.arange(nodes)[inner]
        if any(np.any((ways <= below) | (ways >= nodes)) for ways in (self.left[inner], self.right[inner])):
            return "a node leads to none below it"
        return ""

    def predict(self, worth: Array) -> Array:
        """Return (records,) in log price, from (records, attributes) what each attribute is worth."""
        parts = [self._sums(worth[first : first + BLOCK]) for first in range(0, len(worth), BLOCK)]
        return self.start + np.concatenate([np.zeros(0), *parts])

    def _sums(self, worth: Array) -> Array:
        at = np.tile(self.roots, (len(worth), 1))
        records = np.arange(len(worth))[:, None]
        while (inside := self.attribute[at] != LEAF).any():
            low = worth[records, np.maximum(self.attribute[at], 0)] <= self.threshold[at]
            at = np.where(inside, np.where(low, self.left[at], self.right[at]), at)
        sums: Array = self.value[at].sum(axis=1)
        return sums

    def shares(self, worth: Array) -> Array:
        """Return (attributes,): the part of each in what a record (attributes,) gets beyond one of no worth at all.

        They are Shapley values (Shapley 1953), exact and additive: their sum is the difference of the two predictions.
        Each leaf that can be reached, by some attributes of the record (ours) and some of no worth (theirs), is a game
        of its own, won by all of ours and lost by any of theirs.
        """
        shares = np.zeros(len(worth))
        reached = [(int(root), frozenset[int](), frozenset[int]()) for root in self.roots]
        while reached:
            node, ours, theirs = reached.pop()
            attribute = int(self.attribute[node])
            if attribute == LEAF:
                own, other = len(ours), len(theirs)
                if own:
                    won = factorial(own - 1) * factorial(other) / factorial(own + other)
                    shares[list(ours)] += self.value[node] * won
                if other:
                    lost = factorial(own) * factorial(other - 1) / factorial(own + other)
                    shares[list(theirs)] -= self.value[node] * lost
                continue
            way, plain = (
                self.left[node] if place <= self.threshold[node] else self.right[node]
                for place in (worth[attribute], 0.0)
            )
            if way == plain or attribute in ours:
                reached.append((int(way), ours, theirs))
            elif attribute in theirs:
                reached.append((int(plain), ours, theirs))
            else:
                reached.append((int(way), ours | {attribute}, theirs))
                reached.append((int(plain), ours, theirs | {attribute}))
        return shares


def worth_by_attribute(
    fit: Fit, by_term: Sequence[TermRows], grouped: Mapping[str, str]
) -> tuple[tuple[str, ...], Array]:
    """Return (attributes, (records, attributes) what each is worth in log price); walks are left out.

    `grouped` names the attribute that each term belongs to (its own name, where it is not listed).
    """
    walks = {walk.term for walk in fit.walks}
    padded = np.append(fit.coefficients, 0.0)
    summed: dict[str, Array] = {}
    for term in by_term:
        if term.term not in walks:
            worth = np.sum(padded[term.positions] * term.values, axis=1)
            group = grouped.get(term.term, term.term)
            summed[group] = summed[group] + worth if group in summed else worth
    records = len(by_term[0].positions) if by_term else 0
    return tuple(summed), np.column_stack([np.zeros((records, 0)), *summed.values()])


def grow(left: Left, rising: Sequence[str], growth: Growth) -> "HistGradientBoostingRegressor":
    """Return trees grown on what a fit leaves; along an attribute in `rising` they never fall.

    Each residual weighs by the inverse square of its scale, and counts for CLIP of them at most.
    """
    from sklearn.ensemble import HistGradientBoostingRegressor
    from threadpoolctl import threadpool_limits

    trees = HistGradientBoostingRegressor(
        max_iter=growth.trees,
        learning_rate=growth.rate,
        max_leaf_nodes=LEAVES,
        min_samples_leaf=FEWEST_IN_LEAF,
        max_features=TRIED_ATTRIBUTES,
        monotonic_cst=[int(attribute in rising) for attribute in left.attributes],
        early_stopping=False,
        random_state=0,
    )
    clipped = np.clip(left.residuals, -CLIP * left.scales, CLIP * left.scales)
    with threadpool_limits(limits=1, user_api="openmp"):
        return trees.fit(left.worth, clipped, sample_weight=1 / left.scales**2)


def trees_of(grown: "HistGradientBoostingRegressor", attributes: Sequence[str]) -> Trees:
    """Return what was grown as arrays, which need no library to be read; thresholds and values in single precision."""
    nodes = [predictor.nodes for (predictor,) in grown._predictors]
    starts = np.cumsum([0, *map(len, nodes)])
    every = np.concatenate(nodes)
    own = np.repeat(starts[:-1], np.diff(starts))
    leaf = every["is_leaf"].astype(bool)
    return Trees(
        tuple(attributes),
        float(np.ravel(grown._baseline_prediction)[0]),
        starts[:-1],
        np.where(leaf, LEAF, every["feature_idx"]).astype(np.int64),
        np.where(leaf, 0.0, every["num_threshold"]).astype(np.float32).astype(np.float64),
        np.where(leaf, 0, own + every["left"]).astype(np.int64),
        np.where(leaf, 0, own + every["right"]).astype(np.int64),
        np.where(leaf, every["value"], 0.0).astype(np.float32).astype(np.float64),
    )


def learn_in_time_order(
    errors: Array, periods: Places, learn: Callable[[Growth], Array]
) -> tuple[SecondStage, Array]:
    """Return (the second stage, what it adds to each record in log price).

    `learn` returns what trees of a growth, grown at each rolling origin on what was known before it, say of the records
    with these `errors` and origins (`periods`). Trees of the TRIAL go first.
    """
    if len(np.unique(periods)) < FEWEST_PERIODS:
        return UNUSED, np.zeros(len(errors))
    stage = UNUSED
    for growth in (TRIAL, WHOLE):
        learned = learn(growth)
        stage, shares = measure_second_stage(errors, learned, periods)
        if stage.gain <= 0:
            break
    return stage, shares * learned if stage.used else np.zeros(len(errors))


def measure_second_stage(errors: Array, learned: Array, periods: Places) -> tuple[SecondStage, Array]:
    """Return (the second stage, the share that is used at each record's period).

    `errors` and what was `learned` (log price) come from rolling origins. The share of a period is the slope of
    errors on it over strictly earlier periods, between 0 and MOST_SHARE; the gain is measured with those shares, so
    that no sale judges itself. Errors of the gain and of the share are over periods, since the sales of one share the
    market's surprises.
    """
    order, by_period = np.unique(periods, return_inverse=True)
    shares = np.zeros(len(errors))
    if len(order) < FEWEST_PERIODS:
        return UNUSED, shares
    crosses, squares = (np.bincount(by_period, learned * part, len(order)) for part in (errors, learned))
    slopes = np.clip(np.cumsum(crosses) / np.maximum(np.cumsum(squares), 1e-300), 0, MOST_SHARE)
    shares = np.append(0.0, slopes[:-1])[by_period]
    gains = np.abs(errors) - np.abs(errors - shares * learned)
    counted = by_period > 0
    gain, error = mean_gain(gains[counted], by_period[counted])
    share = float(slopes[-1])
    over = float(np.sum((crosses - share * squares) ** 2)) * len(order) / (len(order) - 1)
    share_error = min(float(np.sqrt(over) / max(squares.sum(), 1e-300)), 1.0)
    return SecondStage(gain > Z_95_ONE_SIDED * error, share, gain, error, share_error), shares


def mean_gain(gains: Array, periods: Places) -> tuple[float, float]:
    """Return (the mean of gains, its standard error over periods): the sales of one share the market's surprises."""
    _, by_period = np.unique(periods, return_inverse=True)
    sizes = np.bincount(by_period)
    gain = float(gains.mean())
    left = np.bincount(by_period, gains) - gain * sizes
    return gain, float(np.sqrt(np.sum(left**2) * len(sizes) / (len(sizes) - 1)) / sizes.sum())
