"""How the market of pairs is fitted at any day, and how its bands are calibrated on what sold next."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.config import Market
from pipeline.decisions.attributes import attribute_of
from pipeline.decisions.market_model import specification
from pipeline.hedonic.calibration import FEWEST_SCORES, Calibration, calibrate
from pipeline.hedonic.neighbours import UNUSED, SecondStage, judge
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import Recipe, Rolled, choose_origins, roll
from pipeline.hedonic.scatter import FITTED
from pipeline.hedonic.scores import scores_of
from pipeline.hedonic.specification import Term
from pipeline.schema import UNKNOWN

SCATTER: tuple[Term, ...] = (
    Term("grade", "walk", ("grade",)),
    Term("era", "pooled", ("era",)),
    Term("venue", "pooled", ("venue",)),
    Term("price", "walk", (FITTED,)),
)
"""What the scatter of single sales varies with: walks over grade and price draw to no variation at all."""

FEWEST_SALES = 60
"""Fewer sales than this leave too few to price after a fit, and to learn how far bands miss."""

FEWEST_BEFORE = 40
STEP_MONTHS = 3
MOST_ORIGINS = 16


@dataclass(frozen=True)
class Promise:
    """What rolling origins say of the bands.

    `calibration` is None, and `why_not` says why, where they cannot be calibrated. `rolled` holds the
    sales with what was predicted (see Rolled); `corrected` (log price) what the second stage adds, nought
    where it is not used; `scores` and `groups` the calibration's, in the order of `rolled.sales`.
    """

    rolled: Rolled
    corrected: np.ndarray[tuple[int], np.dtype[np.float64]]
    second_stage: SecondStage
    calibration: Calibration | None
    why_not: str


def market_recipe(market: Market, terms: pl.DataFrame | None = None) -> Recipe:
    """Return how the market is fitted at any origin."""

    def specify(sales: pl.DataFrame) -> "Specification":
        return specification(market, sales)
