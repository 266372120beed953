"""The odds of an era learned from the owner's records: what each thing seen does to them, and how well they did."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.config import Market
from pipeline.errors import PairError
from pipeline.market.era_model import EraModel, learn_eras, normalised
from pipeline.market.era_reliability import Reliability, judge_odds
from pipeline.market.evidence import SEEN, as_levels, chances_of_years, share_of_wrong_labels
from pipeline.market.pair import Pair
from pipeline.market.seen import Seen, seen_records

Array = NDArray[np.float64]

NAMES: dict[str, str] = {"factory_code": "factory code", "grade": "condition"}
"""What is seen, where people call it otherwise."""

ENOUGH_OF_IT = 20
"""With so many records of a silhouette that state a thing, they are what is shown of it; else those of all."""


@dataclass(frozen=True)
class Piece:
    """One thing that is seen, and what it does: `factors` multiply the chances of the eras, which are then made to sum
    to 1 again.

    `with_it` and `stated` count, for each era, the records that have it among those that state such a thing, of
    the silhouette or (`of_all`) of all; empty for years, which are not counted.
    """

    name: str
    value: str
    factors: tuple[float, ...]
    with_it: tuple[int, ...] = ()
    stated: tuple[int, ...] = ()
    of_all: bool = False


@dataclass(frozen=True)
class LearnedOdds:
    """The chance of each of `eras`: `start` by the silhouette alone, `chances` after all `pieces` are seen.

    `own_prior` says that the start is the owner's prior; `records` are those that were learned from, `wrong_labels`
    the share of label dates that contradict the stated era.
    """

    eras: tuple[str, ...]
    start: tuple[float, ...]
    own_prior: bool
    pieces: tuple[Piece, ...]
    chances: tuple[float, ...]
    records: int
    wrong_labels: float
    reliability: Reliability | None

    @property
    def odds(self) -> dict[str, float]:
        """The chance of each era by its name."""
        return dict(zip(self.eras, self.chances, strict=True))


@dataclass(frozen=True)
class LearnedEras:
    """What the records up to a day teach of eras; `levels` are the records (see `learn_eras`)."""

    market: Market
    as_of: date
    levels: pl.DataFrame
    model: EraModel
    wrong_labels: float

    def chances(self, pairs: list[tuple[Pair, Seen]]) -> Array:
        """Return (pairs, eras): the chance of each era."""
        years = np.array([list(self._of_years(seen).values()) for _, seen in pairs])
        return self.model.chances(as_levels(seen_records(pairs)), years)

    def odds_of(self, pair: Pair, seen: Seen) -> LearnedOdds:
        """Return the odds of a pair, with what each thing seen of it does to them."""
        levels = as_levels(seen_records([(pair, seen)]))
        start = normalised(self.model.start(levels))[0]
        factors = np.exp(self.model.evidence(levels))[0]
        row = levels.row(0, named=True)
        pieces = [
            self._piece(name, row[name], pair, factors[number])
            for number, name in enumerate(SEEN)
            if row[name] is not None
        ]
        if seen.years:
            said = np.array(list(self._of_years(seen).values()))
            pieces.append(
                Piece(
                    "label date" if seen.from_label else "years in words",
                    seen.years,
                    tuple((said / float(start @ said)).tolist()),
                )
            )
        return LearnedOdds(
            eras=self.model.eras,
            start=tuple(start.tolist()),
            own_prior=bool(self.market.era_odds.prior),
            pieces=tuple(pieces),
            chances=tuple(self.chances([(pair, seen)])[0].tolist()),
            records=self.model.records,
            wrong_labels=self.wrong_labels,
            reliability=self.reliability,
        )

    @cached_property
    def reliability(self) -> Reliability | None:
        """What the odds said of later records; the same for every pair."""
        return judge_odds(self.levels, self.model.eras, self.market.era_odds.prior or None)

    def _of_years(self, seen: Seen) -> dict[str, float]:
        return chances_of_years(seen.within, self.market.eras, as_of=self.as_of, wrong=self.wrong_labels)

    def _piece(self, name: str, level: str, pair: Pair, factors: Array) -> Piece:
        stated = self.levels.filter(pl.col(name).is_not_null())
        own = stated.filter(pl.col("silhouette") == pair.silhouette)
        of_all = name != "colourway" and own.height < ENOUGH_OF_IT
        counted = stated if of_all else own
        return Piece(
            NAMES.get(name, name),
            (pair.colourway or "") if name == "colourway" else f"grade {level}" if name == "grade" else level,
            tuple(factors.tolist()),
            self._by_era(counted.filter(pl.col(name) == level)),
            self._by_era(counted),
            of_all,
        )

    def _by_era(self, records: pl.DataFrame) -> tuple[int, ...]:
        counts: Mapping[str, int] = dict(records.group_by("era").len().iter_rows())
        return tuple(counts.get(era, 0) for era in self.model.eras)


def learn_from_records(
    records: pl.DataFrame, labels: pl.DataFrame, market: Market, *, as_of: date
) -> LearnedEras:
    """Return what records teach (columns of sql/marts/era_records.sql, and of sql/marts/label_years.sql).

    Raises PairError where none states an era and the owner gives no prior.
    """
    eras = [era.name for era in market.eras]
    levels = pl.concat([records.select("record_id", "day", "era"), as_levels(records)], how="horizontal")
    dated = levels.filter(pl.col("era").is_in(eras))
    prior = market.era_odds.prior or None
    if prior is None and not dated.height:
        raise PairError(
            f"no record up to {as_of} states an era",
            "give the odds (--era-odds first=0.7,…), or your own prior under `[era_odds]` in the market file.",
        )
    return LearnedEras(
        market, as_of, dated, learn_eras(dated, eras, prior), share_of_wrong_labels(labels, market.eras)
    )
