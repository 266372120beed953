"""Calibration: bands that hold what they claim on sales that came after the fit.

Conformal quantiles of the scores of rolling origins, by tail, and separately for groups (Mondrian) as far as their own
scores carry it. Scores are ranked relative to the scale of scores at their time (`scales_in_time`), and the chance of
each tail is tracked, so that a drift is followed (after the adaptive conformal inference of Gibbs & Candès 2021).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import exp, log, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.hedonic.conformal import Limits, limits_of
from pipeline.hedonic.scores import WALKS, scales_in_time

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

FEWEST_SCORES = 30
"""Fewer scores than this calibrate nothing."""

STEP = 0.06
"""The change of a tail's log chance after a period that missed by one standard error of its own."""

MOST_MISSED = 0.49
FARTHEST = log(4.0)
"""The most that tracking moves a tail's log chance."""


@dataclass(frozen=True)
class Calibration:
    """The scores of rolling origins in order of time, and the band scores that follow from them.

    scores, periods, groups
        (n,) one entry a sale priced before it happened; `groups` are numbers into `names`, -1 for none.
    degrees_of_freedom
        Degrees of freedom that the scores would have under the model (infinite: Gaussian).
    step, walks
        The adaptive step, and how far the scale of scores may walk in a period; see STEP, WALKS.
    settled
        The limits of what sells after the last period at some levels, worked out beforehand.
    known
        Those that were worked out since, each once: an answer for another pair asks for the same levels.
    """

    scores: Array
    periods: Whole
    groups: Whole
    names: tuple[str, ...]
    degrees_of_freedom: float
    step: float = STEP
    walks: tuple[float, ...] = WALKS
    settled: Mapping[float, Limits] = field(default_factory=dict)
    known: dict[float, Limits] = field(default_factory=dict, init=False, compare=False, repr=False)

    def band(self, level: float, groups: Sequence[str]) -> tuple[Array, Array]:
        """Return (low, high) scores of a band at `level` for records of these groups.

        They hold for what sells after the last period. A group without a name here gets the pooled pair.
        """
        limits = self.settled.get(level) or self._next_limits(level)
        numbers = {name: number for number, name in enumerate(self.names)}
        factor = np.append(limits.factors, 1.0)[[numbers.get(group, -1) for group in groups]]
        return limits.low * factor, limits.high * factor

    def settle(self, levels: Sequence[float]) -> "Calibration":
        """Return the calibration with the limits at these levels worked out."""
        return replace(self, settled={level: self._next_limits(level) for level in levels})

    def _next_limits(self, level: float) -> Limits:
        if level not in self.known:
            *_, (_, _, self.known[level]) = self._replay(level)
        return self.known[level]

    def replayed(self, level: float) -> tuple[Array, Array]:
        """Return (low, high) (n,): the band scores of each sale from strictly earlier periods.

        NaN where fewer than FEWEST_SCORES came before.
        """
        low, high = np.full(len(self.scores), np.nan), np.full(len(self.scores), np.nan)
        for start, stop, limits in self._replay(level):
            factor = np.append(limits.factors, 1.0)[self.groups[start:stop]]
            low[start:stop], high[start:stop] = limits.low * factor, limits.high * factor
        return low, high

    def _replay(self, level: float) -> Iterator[tuple[int, int, Limits]]:
        """Yield (start, stop, limits) of each period with scores enough before it, and of the one to come."""
        target = (1 - level) / 2
        moved_low = moved_high = 0.0
        starts = np.flatnonzero(np.diff(self.periods, prepend=self.periods[0] - 1))
        stops = [*starts[1:], len(self.scores)]
        for start, stop in zip(starts, stops, strict=True):
            if start < FEWEST_SCORES:
                continue
            limits = self._limits(int(start), target * exp(moved_low), target * exp(moved_high))
            yield int(start), int(stop), limits
            own = self.scores[start:stop] / np.append(limits.factors, 1.0)[self.groups[start:stop]]
            moved_low = self._moved(moved_low, own < limits.low, target)
            moved_high = self._moved(moved_high, own > limits.high, target)
        count = len(self.scores)
        yield count, count, self._limits(count, target * exp(moved_low), target * exp(moved_high))

    def _moved(self, moved: float, missed: NDArray[np.bool_], target: float) -> float:
        """Return a tail's new shift in log chance: fewer may miss after a period in which too many did."""
        surprise = (target * len(missed) - float(missed.sum())) / sqrt(target * (1 - target) * len(missed))
        return float(np.clip(moved + self.step * surprise, -FARTHEST, FARTHEST))

    def _limits(self, stop: int, below: float, above: float) -> Limits:
        """Return the limits of the period whose first score is that number, from the scores before it."""
        scales = self._scales
        limits = limits_of(
            self.scores[:stop] / scales[:stop],
            self.groups[:stop],
            len(self.names),
            min(below, MOST_MISSED),
            min(above, MOST_MISSED),
            self.degrees_of_freedom,
        )
        return replace(limits, low=limits.low * scales[stop], high=limits.high * scales[stop])

    @cached_property
    def _scales(self) -> Array:
        """Return (n + 1,): the scale of each score as it was predicted, and that of the next period."""
        return scales_in_time(self.scores, self.periods, self.degrees_of_freedom, FEWEST_SCORES, self.walks)


def calibrate(
    scores: Array, periods: NDArray[np.integer[Any]], groups: Sequence[str], degrees_of_freedom: float
) -> Calibration | None:
    """Return the calibration of rolled scores, or None where there are fewer than FEWEST_SCORES.

    `groups` names each score's group ("" for none). Scores are put in the order of their periods; their
    order within one changes no band.
    """
    if len(scores) < FEWEST_SCORES:
        return None
    names = tuple(sorted(set(groups) - {""}))
    numbers = {name: number for number, name in enumerate(names)}
    numbered = np.array([numbers.get(group, -1) for group in groups], dtype=np.int64)
    order = np.argsort(periods, kind="stable")
    return Calibration(
        np.asarray(scores, dtype=np.float64)[order],
        np.asarray(periods, dtype=np.int64)[order],
        numbered[order],
        names,
        degrees_of_freedom,
    )


def to_document(calibration: Calibration) -> tuple[dict[str, Any], dict[str, Array]]:
    """Return (a JSON-able description, the arrays by name), which `from_document` reads back."""
    description = {
        "names": list(calibration.names),
        "degrees_of_freedom": None
        if np.isinf(calibration.degrees_of_freedom)
        else calibration.degrees_of_freedom,
        "step": calibration.step,
        "settled": [[level, limits.low, limits.high] for level, limits in calibration.settled.items()],
    }
    arrays = {
        "scores": calibration.scores,
        "periods": calibration.periods.astype(np.float64),
        "groups": calibration.groups.astype(np.float64),
        "factors": np.array([limits.factors for limits in calibration.settled.values()]),
    }
    return description, arrays


def from_document(description: dict[str, Any], arrays: dict[str, Array]) -> Calibration:
    """Return the calibration that `to_document` described."""
    degrees_of_freedom = description["degrees_of_freedom"]
    settled = {
        level: Limits(low, high, factors)
        for (level, low, high), factors in zip(description["settled"], arrays["factors"], strict=True)
    }
    return Calibration(
        arrays["scores"],
        arrays["periods"].astype(np.int64),
        arrays["groups"].astype(np.int64),
        tuple(description["names"]),
        np.inf if degrees_of_freedom is None else degrees_of_freedom,
        description["step"],
        settled=settled,
    )
