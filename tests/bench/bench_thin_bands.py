"""Do the bands keep their promise in thin markets? Fifty drawn ones, each with a truth of its own.

A market: 1,500 sales over 8 years, 25 silhouettes with up to 8 colourways sold by Zipf's law, four eras,
grades by half, three venues, five treatments; Student-t errors (5 df), wider at low grades; a level that
walks at random, and in half of the markets turns once. Nothing here is a real price.

Run: OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_thin_bands [markets]
"""

import sys
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.hedonic.calibration import Calibration, calibrate
from pipeline.hedonic.distributions import student_quantile
from pipeline.hedonic.fit import FitSettings
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import choose_origins, roll
from pipeline.hedonic.scales import FITTED
from pipeline.hedonic.scores import scores_of
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.settings import FEWEST_BEFORE, MOST_ORIGINS, PRIOR, STEP_MONTHS

SALES, MONTHS, SILHOUETTES, COLOURWAYS = 1500, 96, 25, 8
LEVELS = (0.5, 0.8, 0.95)
TAILS = 5.0

TERMS = (
    Term("silhouette", "pooled", ("silhouette",)),
    Term("colourway", "pooled", ("silhouette", "colourway")),
    Term("era", "level", ("era",)),
    Term("era in silhouette", "pooled", ("era", "silhouette")),
    Term("grade", "curve", ("grade",)),
    Term("treatments", "flags", ("treatments",)),
    Term("venue", "pooled", ("venue",)),
    Term("month", "walk", ("month",)),
)
SCATTER = (
    Term("grade", "walk", ("grade",)),
    Term("era", "pooled", ("era",)),
    Term("venue", "pooled", ("venue",)),
    Term("price", "walk", (FITTED,)),
)


def draw_market(seed: int) -> pl.DataFrame:
    """Return one market's sales: the factors, month and log_price."""
    draws = np.random.default_rng([20261125, seed])
    ranks = 1 / np.arange(1, SILHOUETTES + 1)
    silhouette = draws.choice(SILHOUETTES, SALES, p=ranks / ranks.sum())
    shades = draws.integers(2, COLOURWAYS + 1, SILHOUETTES)
    usual = 1 / np.arange(1, COLOURWAYS + 1)
    weights = np.where(np.arange(COLOURWAYS) < shades[:, None], usual, 0)
    cumulative = np.cumsum(weights / weights.sum(axis=1, keepdims=True), axis=1)
    colourway = (draws.random(SALES)[:, None] > cumulative[silhouette]).sum(axis=1)
    era = draws.integers(0, 4, SALES)
    venue = draws.choice(3, SALES, p=[0.5, 0.3, 0.2])
    grade = np.clip(np.round(draws.normal(7, 1.6, SALES) * 2) / 2, 2, 10)
    treated = draws.random((SALES, 5)) < 0.08
    month = np.sort(draws.integers(0, MONTHS, SALES))
    drift = draws.normal(0, 0.02, MONTHS)
    if seed % 2:
        turn = draws.integers(48, 90)
        drift[turn : turn + 6] += draws.choice([-0.05, 0.05])
    fair = (
        5
        + draws.normal(0, 0.35, SILHOUETTES)[silhouette]
        + draws.normal(0, 0.15, (SILHOUETTES, COLOURWAYS))[silhouette, colourway]
        + np.array([0.5, 0.3, 0.0, -0.2])[era]
        + draws.normal(0, 0.08, (SILHOUETTES, 4))[silhouette, era]
        + 0.17 * (grade - 7)
        + draws.normal(0, 0.08, 3)[venue]
        - treated @ np.array([0.02, 0.06, 0.08, 0.16, 0.2])
        + np.cumsum(drift)[month]
    )
    error = np.where(grade < 6, 0.24, 0.17) * draws.standard_t(TAILS, SALES)
    return pl.DataFrame(
        {
            "silhouette": [f"s{number:02d}" for number in silhouette],
            "colourway": [f"c{number}" for number in colourway],
            "era": [f"e{number}" for number in era],
            "venue": [f"v{number}" for number in venue],
            "grade": grade,
            "treatments": [[f"t{number}" for number in np.flatnonzero(row)] for row in treated],
            "month": month,
            "log_price": fair + error,
        },
        schema_overrides={"treatments": pl.List(pl.String)},
    )


@dataclass(frozen=True)
class Covered:
    """What the bands of one market held, in time order, and their mean width (log price) at 80 %."""

    calibrated: dict[float, float]
    model: dict[float, float]
    sales: int


def fit_settings() -> FitSettings:
    """Return the settings of all markets here."""
    specification = Specification("log_price", TERMS)
    grouped = {term.name: term.columns[0] for term in TERMS}
    return FitSettings(
        lambda sales: specification,
        Robust(degrees_of_freedom=TAILS),
        SCATTER,
        "month",
        grouped,
        "silhouette",
        PRIOR,
    )


def calibrate_market(sales: pl.DataFrame) -> Calibration:
    """Return the calibration of one market, as the program makes it."""
    origins = choose_origins(sales["month"], step=STEP_MONTHS, most=MOST_ORIGINS, fewest=FEWEST_BEFORE)
    priced = roll(FrameSource(sales), fit_settings(), origins).sales
    score = scores_of(priced["error"], priced["variance"], priced["scale"], TAILS)
    groups = sales["era"].gather(priced["row"]).to_list()
    calibration = calibrate(score, priced["period"].to_numpy(), groups, TAILS)
    assert calibration is not None
    return calibration


def cover(calibration: Calibration) -> Covered:
    """Return the shares held by the bands of each period, which know earlier ones only."""
    held, model, sales = {}, {}, 0
    for level in LEVELS:
        low, high = calibration.replayed(level)
        known = ~np.isnan(low)
        score, half = calibration.scores[known], student_quantile((1 + level) / 2, TAILS)
        held[level] = float(np.mean((score >= low[known]) & (score <= high[known])))
        model[level] = float(np.mean(np.abs(score) <= half))
        sales = int(known.sum())
    return Covered(held, model, sales)


def main() -> None:
    """Print the coverage of each market, and of all."""
    markets = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    found = []
    for seed in range(markets):
        found.append(cover(calibrate_market(draw_market(seed))))
        shares = "  ".join(f"{level:.0%}: {found[-1].calibrated[level]:.3f}" for level in LEVELS)
        print(f"market {seed:2d}  {found[-1].sales} sales  {shares}", flush=True)
    print("\nlevel   mean   lowest  highest   the model alone: mean  lowest")
    for level in LEVELS:
        own = [each.calibrated[level] for each in found]
        model = [each.model[level] for each in found]
        print(
            f"{level:5.0%}  {np.mean(own):.3f}   {min(own):.3f}   {max(own):.3f}"
            f"                    {np.mean(model):.3f}   {min(model):.3f}"
        )
    eighty = [each.calibrated[0.8] for each in found]
    assert abs(np.mean(eighty) - 0.8) <= 0.02
    assert min(eighty) >= 0.7


if __name__ == "__main__":
    main()
