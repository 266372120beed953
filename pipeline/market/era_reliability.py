"""How well the odds of eras did: what they said of later records, each from the records before it alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.market.era_model import learn_eras, normalised

Array = NDArray[np.float64]

FEWEST = 60
"""With fewer records to learn from, nothing is judged."""

SPANS = 8
"""The records are judged in so many spans of time, each from what came before it."""

EDGES: tuple[float, ...] = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
"""The chances among which those given are divided."""


@dataclass(frozen=True)
class Bin:
    """Of the chances given from `low` to `high`: how many, their mean, the share that were so, its sampling error."""

    low: float
    high: float
    times: int
    given: float
    were: float
    error: float


@dataclass(frozen=True)
class Reliability:
    """What the odds said of `judged` later records, the first of them on `since`.

    `right` is the chance that they gave to the true era, in geometric mean (the exponential of the mean logarithmic
    score), `right_before` that of the chances by silhouette alone; `gain` is the mean difference of their
    logarithms and `gain_error` its standard error. Each record adds one chance for each era to the bins.
    """

    judged: int
    since: date
    bins: tuple[Bin, ...]
    right: float
    right_before: float
    gain: float
    gain_error: float


def judge_odds(
    levels: pl.DataFrame, eras: Sequence[str], prior: Mapping[str, float] | None = None
) -> Reliability | None:
    """Return what the odds said of later records, or None where there are too few.

    `levels` are those of `learn_eras`, with `day`. The records after the first FEWEST, or the first fifth, are judged
    in SPANS; a record is judged from those of earlier days.
    """
    rows = levels.filter(pl.col("era").is_in(list(eras)), pl.col("silhouette").is_not_null()).sort(
        "day", "record_id"
    )
    first = max(FEWEST, rows.height // 5)
    if rows.height <= first:
        return None
    days = rows["day"]
    starts = sorted({days[int(place)] for place in np.linspace(first, rows.height, SPANS, endpoint=False)})
    chances, before, truths = [], [], []
    numbers = {era: number for number, era in enumerate(eras)}
    for start, end in zip(starts, [*starts[1:], None], strict=True):
        earlier = rows.filter(pl.col("day") < start)
        later = rows.filter(pl.col("day") >= start, (pl.col("day") < end) if end else pl.lit(value=True))
        if earlier.height < FEWEST:
            continue
        model = learn_eras(earlier, eras, prior)
        chances.append(model.chances(later))
        before.append(normalised(model.start(later)))
        truths.append(later["era"].replace_strict(numbers, return_dtype=pl.Int64).to_numpy())
    if not truths:
        return None
    truth = np.concatenate(truths)
    given, alone = np.concatenate(chances), np.concatenate(before)
    places = np.arange(len(truth))
    score, score_before = np.log(given[places, truth]), np.log(alone[places, truth])
    gain = score - score_before
    return Reliability(
        judged=len(truth),
        since=days[rows.height - len(truth)],
        bins=reliability_bins(given, truth),
        right=float(np.exp(score.mean())),
        right_before=float(np.exp(score_before.mean())),
        gain=float(gain.mean()),
        gain_error=float(gain.std() / np.sqrt(len(gain))),
    )


def reliability_bins(given: Array, truth: NDArray[np.int64]) -> tuple[Bin, ...]:
    """Return the bins of EDGES that hold a chance; `given` (records, eras) the chances, `truth` the era's number.

    The sampling error is that of a count of independent events, each with the chance given: the root of the sum of
    p (1 − p), over their number.
    """
    chances = given.ravel()
    were = np.eye(given.shape[1])[truth].ravel()
    places = np.clip(np.searchsorted(EDGES, chances, side="right") - 1, 0, len(EDGES) - 2)
    bins = []
    for place in np.unique(places):
        own = places == place
        times = int(own.sum())
        bins.append(
            Bin(
                low=EDGES[place],
                high=EDGES[place + 1],
                times=times,
                given=float(chances[own].mean()),
                were=float(were[own].mean()),
                error=float(np.sqrt((chances[own] * (1 - chances[own])).sum()) / times),
            )
        )
    return tuple(bins)
