"""The second stage: what a pair's attributes are worth together, beyond the sum of what each is worth.

Gradient-boosted regression trees (Friedman 2001, Annals of Statistics 29) of two kinds. Those on *residuals* learn what
a fit leaves of earlier sales, and ask what each attribute is worth by the fit, so that a level that was never sold
stands where the fit puts it. Those on *prices* stand for half of what attributes are worth by the fit, and learn that
half from prices: the two halves err differently, so that both err less than either whole. They ask for numbers as they
are, and for levels in sets. Used, alone or both, only where errors in time order fall by it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import factorial
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.design import Factor
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

FEWEST_IN_LEAF = 20

MOST_LEVELS = 250
"""A term of more levels is asked for what they are worth: the library sorts 255 of them at most."""

PLACES = ("roots", "question", "left", "right", "unknown", "words")
NUMBERS = ("threshold", "value")
"""The arrays of trees: whole numbers, and those in the unit of the question or in log price."""

LEAF = -1
"""The question of a node that is a leaf."""

BITS = 16
"""So many levels of a set are one of its words; a number in single precision holds them exactly."""

BLOCK = 2_048
"""So many records are led through the trees at a time."""

Z_95_ONE_SIDED = 1.6448536269514722
"""The normal quantile of 95 %: the gain must exceed its own sampling error by so much."""

FEWEST_PERIODS = 8


@dataclass(frozen=True)
class Growth:
    """How trees are grown: how many, of so many leaves, and the share of each that counts.

    A split may choose from the share `tried` of the questions: what every attribute is worth (`by_worth`), or its
    numbers and levels, and what it is worth where it has none. The trees stand for the share `stands_for` of what the
    fit says that attributes are worth.
    """

    trees: int
    leaves: int
    rate: float
    tried: float
    by_worth: bool
    stands_for: float


RESIDUALS = Growth(300, 31, 0.1, 0.6, True, 0.0)
PRICES = Growth(400, 63, 0.07, 0.5, False, 0.5)
TRIAL = replace(RESIDUALS, trees=30, rate=0.3)
"""A tenth of the work: where what these gain is within its own standard error, no others are grown."""

WEIGHTS = (0.0, 0.5, 1.0)
"""What trees on prices may count for, beside those on residuals."""


@dataclass(frozen=True)
class SecondStage:
    """Whether what the trees say is used, and which share of it.

    `share` of it is added to the log price where `used`; `share_error` is its standard error, one at most. `gain` is
    the fall of the mean absolute error (log price) in time order, `error` its standard error over periods. It is used
    if and only if the gain exceeds Z_95_ONE_SIDED times its error. `prices` is what trees on prices count for of what
    is said, one of WEIGHTS; those on residuals count for the rest.
    """

    used: bool
    share: float
    gain: float
    error: float
    share_error: float = 0.0
    prices: float = 0.0


UNUSED = SecondStage(False, 0.0, 0.0, 0.0)


class Question(NamedTuple):
    """What trees ask of a record: a term's number or (one of so many `levels`) level, or what an attribute is worth
    (no term).
    """

    attribute: str
    term: str
    asks: Literal["number", "level", "worth"]
    levels: int = 0


@dataclass(frozen=True)
class Asked:
    """What is known of records.

    `answers` (records, questions) are a number (a curve's beyond its reference), the number of a level, or a worth in
    log price; NaN where it is not known, or is a reference level. The first questions are what each of `attributes` is
    worth. A plain record is worth nothing: its numbers are 0, its levels NaN.
    """

    attributes: tuple[str, ...]
    questions: tuple[Question, ...]
    answers: Array

    @property
    def worth(self) -> Array:
        """Return (records, attributes): what each is worth by the fit, in log price."""
        return self.answers[:, : len(self.attributes)]

    def taken(self, rows: Places) -> "Asked":
        """Return that of some of the records."""
        return Asked(self.attributes, self.questions, self.answers[rows])


@dataclass(frozen=True)
class Left:
    """What is known of records, and what a fit leaves of their log prices: `residuals` and `scales` (records,)."""

    asked: Asked
    residuals: Array
    scales: Array

    def taken(self, rows: Places) -> "Left":
        """Return that of some of the records."""
        return Left(self.asked.taken(rows), self.residuals[rows], self.scales[rows])


@dataclass(frozen=True)
class Trees:
    """Regression trees over questions.

    A record's value is `start` and the sum of its leaves, less the share `stands_for` of what its attributes are worth.

    `roots` (trees,) are places among the nodes. At a node (nodes,) a record whose answer to its `question` is a number
    or a worth goes `left` where that is no more than the `threshold`; one whose answer is a level where the set of that
    number holds it; one whose answer is not known where `unknown` is 1; and `right` else. A leaf's question is LEAF,
    and it adds its `value`. `words` (sets · width,) hold the levels of the sets, BITS a word.
    """

    attributes: tuple[str, ...]
    questions: tuple[Question, ...]
    start: float
    stands_for: float
    width: int
    roots: Places
    question: Places
    left: Places
    right: Places
    unknown: Places
    words: Places
    threshold: Array
    value: Array

    def broken(self) -> str:
        """Return why these are no trees that come to an end; nothing where they are."""
        nodes, inner = len(self.question), self.question != LEAF
        if any(
            len(part) != nodes for part in (self.threshold, self.left, self.right, self.unknown, self.value)
        ):
            return "its nodes have parts of different lengths"
        if np.any((self.question < LEAF) | (self.question >= len(self.questions))):
            return "a node asks what is no question"
        if np.any((self.roots < 0) | (self.roots >= nodes)):
            return "a root is no node"
        below = np.arange(nodes)[inner]
        if any(np.any((ways <= below) | (ways >= nodes)) for ways in (self.left[inner], self.right[inner])):
            return "a node leads to none below it"
        sets = self.threshold[inner & self._of_levels[self.question]]
        if np.any((sets < 0) | ((sets + 1) * self.width > len(self.words))):
            return "a node asks for a set that there is not"
        return ""

    @property
    def _of_levels(self) -> NDArray[np.bool_]:
        """Which questions are answered by a level (questions + 1,); the last stands for a leaf."""
        return np.array([*(question.levels > 0 for question in self.questions), False])

    def predict(self, asked: Asked) -> Array:
        """Return (records,) in log price."""
        said: Array = self.start + self._sums(asked.answers) - self.stands_for * asked.worth.sum(axis=1)
        return said

    @property
    def common(self) -> float:
        """Return what a plain record gets, in log price."""
        return self.start + float(self._sums(self._plain[None, :])[0])

    @property
    def _plain(self) -> Array:
        return np.where(self._of_levels[:-1], np.nan, 0.0)

    def _sums(self, answers: Array) -> Array:
        parts = [
            self._sums_of_block(answers[first : first + BLOCK]) for first in range(0, len(answers), BLOCK)
        ]
        return np.concatenate([np.zeros(0), *parts])

    def _sums_of_block(self, answers: Array) -> Array:
        at = np.tile(self.roots, (len(answers), 1))
        records = np.arange(len(answers))[:, None]
        while (inside := self.question[at] != LEAF).any():
            low = self._goes_left(at, answers[records, np.maximum(self.question[at], 0)])
            at = np.where(inside, np.where(low, self.left[at], self.right[at]), at)
        sums: Array = self.value[at].sum(axis=1)
        return sums

    def _goes_left(self, nodes: Places, answers: Array) -> NDArray[np.bool_]:
        """Return whether each answer leads to the left of its node."""
        threshold, known = self.threshold[nodes], ~np.isnan(answers)
        levels = self._of_levels[self.question[nodes]] & known
        low = answers <= threshold
        level = answers[levels].astype(np.int64)
        held = self.words[threshold[levels].astype(np.int64) * self.width + level // BITS]
        low[levels] = held >> level % BITS & 1
        return np.where(known, low, self.unknown[nodes] == 1)

    def shares(self, asked: Asked) -> Array:
        """Return (attributes,): the part of each in what the one record gets beyond a plain one.

        They are Shapley values (Shapley 1953), exact and additive: their sum is the difference of the two predictions.
        Each leaf that can be reached, by some attributes of the record (ours) and some of the plain one (theirs), is a
        game of its own, won by all of ours and lost by any of theirs.
        """
        [answers] = asked.answers
        nodes = np.arange(len(self.question))
        ours_left = self._goes_left(nodes, answers[self.question])
        plain_left = self._goes_left(nodes, self._plain[self.question])
        ours_way, plain_way = (
            np.where(low, self.left, self.right).tolist() for low in (ours_left, plain_left)
        )
        of_question = [self.attributes.index(question.attribute) for question in self.questions]
        attributes = np.where(self.question == LEAF, LEAF, np.array(of_question)[self.question]).tolist()
        shares: Array = -self.stands_for * asked.worth[0]
        reached = [(int(root), frozenset[int](), frozenset[int]()) for root in self.roots]
        while reached:
            node, ours, theirs = reached.pop()
            attribute = attributes[node]
            if attribute == LEAF:
                own, other = len(ours), len(theirs)
                if own:
                    won = factorial(own - 1) * factorial(other) / factorial(own + other)
                    shares[list(ours)] += self.value[node] * won
                if other:
                    lost = factorial(own) * factorial(other - 1) / factorial(own + other)
                    shares[list(theirs)] -= self.value[node] * lost
                continue
            way, plain = ours_way[node], plain_way[node]
            if way == plain or attribute in ours:
                reached.append((way, ours, theirs))
            elif attribute in theirs:
                reached.append((plain, ours, theirs))
            else:
                reached.append((way, ours | {attribute}, theirs))
                reached.append((plain, ours, theirs | {attribute}))
        return shares


class Reading(NamedTuple):
    """What trees ask of a term (see Question), and what each coefficient answers (p + 1,); the last one is none."""

    asks: Literal["number", "level", "worth"]
    answers: Array
    levels: int = 0


def questions_of(fit: Fit, grouped: Mapping[str, str]) -> tuple[tuple[str, ...], tuple[Question, ...]]:
    """Return (the attributes, the questions of trees) of a fit: what each is worth, and each term's number or level.

    `grouped` names the attribute that each term belongs to (its own name, where it is not listed). Walks are left out.
    """
    return _questions(fit, _plan(fit, grouped))


def _questions(
    fit: Fit, plan: list[tuple[int, str, Reading]]
) -> tuple[tuple[str, ...], tuple[Question, ...]]:
    attributes = tuple(dict.fromkeys(attribute for _, attribute, _ in plan))
    worth = [Question(attribute, "", "worth") for attribute in attributes]
    own = [
        Question(attribute, fit.design.factors[number].term.name, reading.asks, reading.levels)
        for number, attribute, reading in plan
        if reading.asks != "worth"
    ]
    return attributes, (*worth, *own)


def _plan(fit: Fit, grouped: Mapping[str, str]) -> list[tuple[int, str, Reading]]:
    """Return (the number of a term, its attribute, its reading) for each term but walks."""
    return [
        (number, grouped.get(factor.term.name, factor.term.name), reading_of(fit, factor))
        for number, factor in enumerate(fit.design.factors)
        if factor.term.kind != "walk"
    ]


def ask(fit: Fit, by_term: Sequence[TermRows], grouped: Mapping[str, str]) -> Asked:
    """Return what is known of records by their design rows (see `questions_of`)."""
    plan = _plan(fit, grouped)
    attributes, questions = _questions(fit, plan)
    records = len(by_term[0].positions) if by_term else 0
    padded = np.append(fit.coefficients, 0.0)
    worth, answers = np.zeros((records, len(attributes))), []
    for number, attribute, reading in plan:
        rows = by_term[number]
        worth[:, attributes.index(attribute)] += np.sum(padded[rows.positions] * rows.values, axis=1)
        answer = reading.answers[rows.positions]
        if reading.asks != "worth":
            answers.append(answer[:, 0] if reading.levels else np.sum(answer * rows.values, axis=1))
    return Asked(attributes, questions, np.column_stack([worth, *answers]))


def reading_of(fit: Fit, factor: Factor) -> Reading:
    """Return what trees ask of a term, and what each coefficient answers."""
    answers = np.zeros(fit.layout.size + 1)
    places = fit.layout.positions[factor.start : factor.stop]
    if factor.many or len(factor.term.columns) > 1:
        return Reading("worth", answers)
    if factor.term.kind == "linear":
        answers[places] = [1.0, np.nan][: factor.size]
    elif factor.axis is not None:
        answers[places] = factor.axis - (factor.axis[factor.references[0]] if factor.references else 0.0)
    else:
        own = places[places < fit.layout.size]
        if not 1 <= len(own) <= MOST_LEVELS:
            return Reading("worth", answers)
        answers[:] = np.nan
        answers[own] = np.arange(len(own))
        return Reading("level", answers, len(own))
    answers[-1] = 0.0
    return Reading("number", answers)


@dataclass(frozen=True)
class Grown:
    """Trees as the library grew them, and the numbers of the questions that they ask."""

    growth: Growth
    asks: Places
    model: "HistGradientBoostingRegressor"

    def predict(self, asked: Asked) -> Array:
        """Return (records,) in log price."""
        worth = self.growth.stands_for * asked.worth.sum(axis=1)
        learned: Array = self.model.predict(asked.answers[:, self.asks]) - worth
        return learned


def grow(left: Left, rising: Sequence[str], growth: Growth) -> Grown:
    """Return trees grown on records and what a fit leaves of them; along an attribute in `rising` they never fall.

    A residual weighs by the inverse square of its scale, and counts for CLIP of them at most.
    """
    from sklearn.ensemble import HistGradientBoostingRegressor
    from threadpoolctl import threadpool_limits

    asked = left.asked
    asks = np.flatnonzero([_is_asked(question, asked.questions, growth) for question in asked.questions])
    questions = [asked.questions[number] for number in asks]
    model = HistGradientBoostingRegressor(
        max_iter=growth.trees,
        learning_rate=growth.rate,
        max_leaf_nodes=growth.leaves,
        min_samples_leaf=FEWEST_IN_LEAF,
        max_features=growth.tried,
        categorical_features=[question.levels > 0 for question in questions],
        monotonic_cst=[int(_rises(question, rising)) for question in questions],
        early_stopping=False,
        random_state=0,
    )
    learned = np.clip(left.residuals, -CLIP * left.scales, CLIP * left.scales)
    learned = learned + growth.stands_for * asked.worth.sum(axis=1)
    with threadpool_limits(limits=1, user_api="openmp"):
        return Grown(
            growth, asks, model.fit(asked.answers[:, asks], learned, sample_weight=1 / left.scales**2)
        )


def _is_asked(question: Question, questions: Sequence[Question], growth: Growth) -> bool:
    if growth.by_worth:
        return question.asks == "worth"
    own = {one.attribute for one in questions if one.asks != "worth"}
    return question.asks != "worth" or question.attribute not in own


def _rises(question: Question, rising: Sequence[str]) -> bool:
    return not question.levels and question.attribute in rising


def trees_of(grown: Grown, asked: Asked) -> Trees:
    """Return what was grown as arrays, which need no library to be read; thresholds and values in single precision."""
    model, questions = grown.model, [asked.questions[number] for number in grown.asks]
    predictors = [predictor for (predictor,) in model._predictors]
    starts = np.cumsum([0, *(len(predictor.nodes) for predictor in predictors)])
    nodes = np.concatenate([predictor.nodes for predictor in predictors])
    own = np.repeat(starts[:-1], np.diff(starts))
    leaf = nodes["is_leaf"].astype(bool)
    of_levels = np.flatnonzero(~leaf & nodes["is_categorical"].astype(bool))
    # The library puts the questions that are answered by levels first.
    order = np.argsort([question.levels == 0 for question in questions], kind="stable")
    question = grown.asks[order][nodes["feature_idx"]]
    threshold = np.minimum(nodes["num_threshold"], np.finfo(np.float32).max).astype(np.float32).astype(float)
    threshold[of_levels] = np.arange(len(of_levels))
    width = -(-max(one.levels for one in asked.questions) // BITS)
    held = np.zeros((len(of_levels), width * BITS), dtype=np.int64)
    bits = [predictor.raw_left_cat_bitsets for predictor in predictors if len(predictor.raw_left_cat_bitsets)]
    if len(of_levels):
        known = np.unpackbits(np.concatenate(bits).view(np.uint8), axis=1, bitorder="little")
        known_to = model._preprocessor.named_transformers_["encoder"].categories_
        for row, node in enumerate(of_levels):
            levels = known_to[int(nodes["feature_idx"][node])]
            levels = levels[~np.isnan(levels)].astype(np.int64)
            held[row] = nodes["missing_go_to_left"][node]
            held[row, levels] = known[row, : len(levels)]
    words = held.reshape(len(of_levels) * width, BITS) @ (1 << np.arange(BITS))
    return Trees(
        asked.attributes,
        asked.questions,
        float(np.ravel(model._baseline_prediction)[0]),
        grown.growth.stands_for,
        width,
        starts[:-1],
        np.where(leaf, LEAF, question).astype(np.int64),
        np.where(leaf, 0, own + nodes["left"]).astype(np.int64),
        np.where(leaf, 0, own + nodes["right"]).astype(np.int64),
        np.where(leaf, 0, nodes["missing_go_to_left"]).astype(np.int64),
        words,
        np.where(leaf, 0.0, threshold),
        np.where(leaf, nodes["value"], 0.0).astype(np.float32).astype(np.float64),
    )


def joined(residuals: Trees, prices: Trees, weight: float) -> Trees:
    """Return trees that say what these two say, those on prices for the share `weight` of it."""
    nodes, sets = len(residuals.question), len(residuals.words) // max(residuals.width, 1)
    moved = replace(
        prices,
        roots=prices.roots + nodes,
        left=prices.left + nodes * (prices.question != LEAF),
        right=prices.right + nodes * (prices.question != LEAF),
        threshold=prices.threshold + sets * prices._of_levels[prices.question],
        value=prices.value * weight,
    )
    kept = replace(residuals, value=residuals.value * (1 - weight))
    arrays: dict[str, Any] = {
        name: np.concatenate([getattr(kept, name), getattr(moved, name)]) for name in (*PLACES, *NUMBERS)
    }
    return replace(
        residuals,
        start=(1 - weight) * residuals.start + weight * prices.start,
        stands_for=(1 - weight) * residuals.stands_for + weight * prices.stands_for,
        **arrays,
    )


def learn_in_time_order(
    errors: Array, periods: Places, learn: Callable[[Growth], Array]
) -> tuple[SecondStage, Array]:
    """Return (the second stage, what it adds to each record in log price).

    `learn` returns what trees of a growth, grown at each rolling origin on what was known before it, say of the records
    with these `errors` and origins (`periods`). Trees of the TRIAL go first. Of the WEIGHTS of trees on prices the one
    with the greatest gain is taken.
    """
    if len(np.unique(periods)) < FEWEST_PERIODS:
        return UNUSED, np.zeros(len(errors))
    stage, _ = measure_second_stage(errors, learn(TRIAL), periods)
    added = np.zeros(len(errors))
    if stage.gain <= stage.error:
        return stage, added
    residuals, prices = learn(RESIDUALS), learn(PRICES)
    tried = []
    for weight in WEIGHTS:
        learned = (1 - weight) * residuals + weight * prices
        measured, shares = measure_second_stage(errors, learned, periods)
        tried.append((replace(measured, prices=weight), shares * learned))
    stage, learned = max(tried, key=lambda one: one[0].gain)
    return stage, learned if stage.used else added


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
