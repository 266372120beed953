"""How the market of pairs is fitted at any day, and how many of the sales that came next lay in its bands."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline import formats
from pipeline.config import Market
from pipeline.hedonic.calibration import FEWEST_SCORES, Calibration, calibrate
from pipeline.hedonic.fit import FitSettings, Prior
from pipeline.hedonic.interactions import Interactions
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import (
    Rolled,
    choose_origins,
    learn_at_origins,
    learn_from_all,
    roll_with_interactions,
    trended,
)
from pipeline.hedonic.scales import FITTED
from pipeline.hedonic.scores import scores_of
from pipeline.hedonic.second_stage import SecondStage, Trees, learn_in_time_order
from pipeline.hedonic.source import BEHIND, ONE_STAGE, Known, Source
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.trend import TrendStage
from pipeline.market.attributes import attributes_by_term
from pipeline.market.model import all_terms, group_of, possible_pairs, specification

SCATTER: tuple[Term, ...] = (
    Term("grade", "walk", ("grade",)),
    Term("era", "pooled", ("era",)),
    Term("venue", "pooled", ("venue",)),
    Term("price", "walk", (FITTED,)),
)
"""What the scatter of single sales varies with; where the records show no variation, REML leaves none."""

PRIOR = Prior(8.0, 0.2)
"""The prior on the scatter of single sales: a fifth. Eight records outweigh it."""

RISING: tuple[str, ...] = ("grade",)
"""Columns whose curves rise: a better grade is never worth less, unless the records show that it is."""

FEWEST_SALES = 60
"""Fewer sales than this leave too few to be priced after a fit, to learn how far bands miss."""

FEWEST_BEFORE = 40
STEP_MONTHS = 3
MOST_ORIGINS = 12


@dataclass(frozen=True)
class RollingEvaluation:
    """What rolling origins say of the bands.

    `rolled` holds the sales with what was predicted of each (see Rolled), with the trend where `trend` says that it is
    used; `correction` (log price) is what the second stage adds to each, in the order of `rolled.sales`; `trees` are
    None where it is not used. `calibration` is None where the bands cannot be calibrated, and `why_not` says why.
    `interactions` says which were found and whether the fits of `rolled` have them.
    """

    rolled: Rolled
    correction: NDArray[np.float64]
    second_stage: SecondStage
    trees: Trees | None
    trend: TrendStage
    calibration: Calibration | None
    why_not: str
    interactions: Interactions


def fit_settings(market: Market) -> FitSettings:
    """Return how the market is fitted at any origin."""

    def specify(sales: Known) -> Specification:
        return specification(market, sales)

    pairs = possible_pairs(market)
    return FitSettings(
        specify,
        Robust(degrees_of_freedom=market.model.degrees_of_freedom),
        SCATTER,
        "month",
        attributes_by_term((*all_terms(market), *pairs)),
        "silhouette",
        PRIOR,
        RISING,
        pairs if market.model.interactions.find else (),
    )


class _Retold:
    """Progress that is reported again as it was last, for work between two steps."""

    def __init__(self, on_progress: Callable[[int, int], None]) -> None:
        self._on_progress = on_progress
        self._last = (0, 0)

    def __call__(self, done: int, total: int) -> None:
        """Tell how much of how much is done."""
        self._last = (done, total)
        self.again()

    def again(self) -> None:
        """Report what was reported last."""
        self._on_progress(*self._last)


def evaluate_bands(
    source: Source,
    settings: FitSettings,
    *,
    on_progress: Callable[[int, int], None] | None = None,
) -> RollingEvaluation:
    """Fit the market, price past sales from rolling origins, and calibrate the bands on them.

    `source` has the columns of sql/marts/priced_sales.sql. Origins are STEP_MONTHS apart, MOST_ORIGINS at
    most, each with FEWEST_BEFORE sales before it. `on_progress` gets (origins done, of how many), again and again;
    what it raises ends the fits. Raises FitError where the market cannot be fitted.
    """
    if on_progress is not None:
        on_progress = _Retold(on_progress)
        settings = replace(settings, heed=on_progress.again)
    origins: tuple[int, ...] = ()
    [months] = source.levels([(settings.period,)], ONE_STAGE)
    count = int(months[BEHIND].sum())
    if count >= FEWEST_SALES:
        origins = choose_origins(
            months[settings.period],
            step=STEP_MONTHS,
            most=MOST_ORIGINS,
            fewest=FEWEST_BEFORE,
            behind=months[BEHIND],
        )
    rolled, interactions = roll_with_interactions(source, settings, origins, on_progress=on_progress)
    rolled, trend = trended(rolled, settings.period)
    priced = rolled.sales
    errors = priced["error"].to_numpy()
    stage, correction = learn_in_time_order(
        errors, priced["origin"].to_numpy(), lambda growth: learn_at_origins(rolled, settings, growth)
    )
    trees = learn_from_all(rolled.whole, rolled.singles, settings, stage.prices) if stage.used else None
    degrees_of_freedom = float(priced["degrees_of_freedom"][0]) if priced.height else np.inf
    score = scores_of(errors - correction, priced["variance"], priced["scale"], degrees_of_freedom)
    groups = group_of(rolled.singles[priced["row"].to_list()])
    calibration = calibrate(score, priced["period"].to_numpy(), groups, degrees_of_freedom)
    why_not = _why_not(count, priced.height)
    return RollingEvaluation(rolled, correction, stage, trees, trend, calibration, why_not, interactions)


def _why_not(sales: int, priced: int) -> str:
    if sales < FEWEST_SALES:
        return (
            f"The band is uncalibrated: it rests on the model alone, since {sales} sales are too few "
            f"to try it on later ones ({FEWEST_SALES} are needed)."
        )
    if priced < FEWEST_SCORES:
        came = f"only {formats.counted(priced, 'sale')} came" if priced else "no sale came"
        return (
            f"The band is uncalibrated: it rests on the model alone, since {came} after "
            f"enough others to be priced ({FEWEST_SCORES} are needed)."
        )
    return ""
