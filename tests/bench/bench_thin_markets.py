"""Thin markets, simulated: who prices the next quarter best, and who finds what treatments do.

Run: python -m tests.bench.bench_thin_markets [--seeds 20]

Eight years of sales of 25 silhouettes in up to 8 colourways of Zipf popularity; a random-walk level, curves
of grade and size, Student-t errors (5 df), five treatments. Each model sees the same sales and prices the
next quarter's. Beside the penalised fit: plain dummies by least squares, a mixed model with a random intercept
a colourway (statsmodels), and boosting (LightGBM, L1, 500 trees, prices deflated by the penalised fit's
months; an optional extra, left out where it is not installed). "truth" prices by the true effects.

Columns: median absolute error in per cent of the price; mean absolute error of the five treatments'
effects in log price; share of the next quarter's prices inside the 80 % band.
"""

import argparse
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.bands import half_width
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import differences, predict
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.specification import Specification, Term

Array = NDArray[np.float64]

MONTHS = 96
TREATMENTS = ("deep clean", "reglue", "repaint", "sole swap", "de-yellowing")
EFFECTS = np.array([0.03, -0.02, -0.12, 0.08, -0.06])
SCALE = 0.20


@dataclass(frozen=True)
class Market:
    """A simulated market: its past sales, the next quarter's, and the true log price of those."""

    past: pl.DataFrame
    future: pl.DataFrame
    true_price: Array


@dataclass(frozen=True)
class Score:
    """What a model achieved on one market."""

    error: float
    treatment_error: float | None
    coverage: float | None


def simulate(seed: int, sales: int, future: int = 250) -> Market:
    """Return one market of `sales` past sales."""
    random = np.random.default_rng(seed)
    colourways = random.integers(2, 9, 25)
    cell_silhouette = np.repeat(np.arange(25), colourways)
    cell_rank = np.concatenate([np.arange(count) for count in colourways])
    silhouette_rank = random.permutation(25)[cell_silhouette]
    popularity = 1 / ((1 + silhouette_rank) * (1 + cell_rank))
    popularity /= popularity.sum()
    silhouette_effect = random.normal(0, 0.45, 25)
    cell_effect = silhouette_effect[cell_silhouette] + random.normal(0, 0.25, len(cell_silhouette))
    level = np.cumsum(random.normal(0.002, 0.025, MONTHS + 3))
    rows = sales + future
    month = np.concatenate([random.integers(0, MONTHS, sales), random.integers(MONTHS, MONTHS + 3, future)])
    cell = random.choice(len(popularity), rows, p=popularity)
    grade = np.clip(np.round(random.normal(7, 1.6, rows) * 2) / 2, 1, 10)
    foot_mm = 5 * np.round(random.normal(54, 3, rows)).astype(int)
    era = random.integers(0, 3, rows)
    box = random.integers(0, 3, rows)
    treated = random.random((rows, 5)) < 0.12
    truth = (
        5.0
        + cell_effect[cell]
        + level[month]
        + 0.9 * np.expm1((grade - 7) / 6)
        - 0.5 * ((foot_mm - 270) / 60) ** 2
        + np.array([0.5, 0.2, 0.0])[era]
        + np.array([0.0, 0.08, 0.2])[box]
        + treated @ EFFECTS
    )
    records = pl.DataFrame(
        {
            "silhouette": [f"s{number}" for number in cell_silhouette[cell]],
            "colourway": [f"c{number}" for number in cell],
            "month": month,
            "quarter": np.minimum(month, MONTHS - 1) // 3,
            "grade": grade,
            "foot_mm": foot_mm,
            "era": era,
            "box": box,
            "treatments": [
                [name for name, done in zip(TREATMENTS, row, strict=True) if done] for row in treated
            ],
            "log_price": truth + SCALE * random.standard_t(5, rows),
        },
        schema_overrides={"treatments": pl.List(pl.String)},
    )
    return Market(records[:sales], records[sales:], truth[sales:])


FIXED = (
    Term("era", "level", ("era",)),
    Term("box", "level", ("box",)),
    Term("treatments", "flags", ("treatments",)),
)
POOLED = Specification(
    "log_price",
    (
        Term("silhouette", "pooled", ("silhouette",)),
        Term("colourway", "pooled", ("colourway",)),
        *FIXED,
        Term("grade", "curve", ("grade",)),
        Term("size", "curve", ("foot_mm",)),
        Term("month", "walk", ("month",)),
    ),
)
DUMMIES = Specification(
    "log_price",
    (
        Term("colourway", "level", ("colourway",)),
        *FIXED,
        Term("grade", "level", ("grade",)),
        Term("size", "level", ("foot_mm",)),
        Term("quarter", "level", ("quarter",)),
    ),
)


def median_error(predicted: Array, market: Market) -> float:
    """Return the median absolute error in per cent of the price."""
    actual = market.future["log_price"].to_numpy()
    return float(100 * np.median(np.abs(np.expm1(predicted - actual))))


def treatment_errors(effects: dict[str, float]) -> float:
    """Return the mean absolute error of the treatments' effects; one that was not found counts as zero."""
    found = np.array([effects.get(name, 0.0) for name in TREATMENTS])
    return float(np.mean(np.abs(found - EFFECTS)))


def score_fit(market: Market, specification: Specification, robust: Robust | None) -> Score:
    """Return the score of one of our fits."""
    fitted = fit(market.past, specification, robust=robust)
    priced = predict(fitted, market.future)
    log_price = priced["log_price"].to_numpy()
    scale = np.full(len(log_price), fitted.residual_scale)
    half = half_width(priced["estimation_variance"].to_numpy(), scale, fitted.degrees_of_freedom, 0.8)
    inside = np.abs(market.future["log_price"].to_numpy() - log_price) <= half
    return Score(
        median_error(log_price, market), treatment_errors(effects_of(fitted)), float(np.mean(inside))
    )


def effects_of(fitted: Fit) -> dict[str, float]:
    """Return the effect of each treatment."""
    rows = fitted.effects.filter(pl.col("term") == "treatments")
    return dict(rows.select("level", "effect").iter_rows())


def score_truth(market: Market) -> Score:
    """Return the score of the true effects."""
    return Score(median_error(market.true_price, market), 0.0, None)


def score_mixed(market: Market) -> Score:
    """Return the score of a mixed model: a random intercept a colourway, the rest fixed."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    fixed, future = _dense(market.past, market.future)
    groups = market.past["colourway"].to_numpy()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = MixedLM(market.past["log_price"].to_numpy(), fixed, groups).fit(reml=True)
    intercepts = {group: float(effect.iloc[0]) for group, effect in found.random_effects.items()}
    own = np.array([intercepts.get(group, 0.0) for group in market.future["colourway"]])
    effects = dict(zip(TREATMENTS, found.fe_params[1:6], strict=True))
    return Score(median_error(future @ found.fe_params + own, market), treatment_errors(effects), None)


def _dense(past: pl.DataFrame, future: pl.DataFrame) -> tuple[Array, Array]:
    """Return the fixed design of the mixed model: treatments, era, box, grade, size, quarter."""
    both = pl.concat([past, future])
    columns = [np.ones(both.height)]
    columns += [both["treatments"].list.contains(name).cast(pl.Float64).to_numpy() for name in TREATMENTS]
    for name in ("era", "box", "quarter"):
        levels = past[name].unique().sort()[1:]
        columns += [(both[name] == level).cast(pl.Float64).to_numpy() for level in levels]
    for name, centre in (("grade", 7.0), ("foot_mm", 270.0)):
        spread = (both[name].to_numpy() - centre) / past[name].std()  # type: ignore[operator]
        columns += [spread, spread**2]
    whole = np.stack(columns, axis=1)
    return whole[: past.height], whole[past.height :]


def score_boosting(market: Market) -> Score:
    """Return the score of boosting on prices deflated by the months of the penalised fit."""
    import lightgbm

    fitted = fit(market.past, POOLED)
    first, both = market.past[:1], pl.concat([market.past, market.future])
    same = pl.concat([first] * both.height).with_columns(both["month"])
    drift = differences(fitted, first, same)["effect"].to_numpy()
    names = ["silhouette", "colourway"]
    codes = [both[name].rank("dense").to_numpy().astype(float) for name in names]
    numbers = [both[name].to_numpy().astype(float) for name in ("grade", "foot_mm", "era", "box")]
    flags = [both["treatments"].list.contains(name).cast(pl.Float64).to_numpy() for name in TREATMENTS]
    table = np.stack([*codes, *numbers, *flags], axis=1)
    known = market.past.height
    settings = {
        "objective": "l1",
        "learning_rate": 0.05,
        "num_leaves": 15,
        "min_data_in_leaf": 10,
        "verbosity": -1,
    }
    settings |= {"num_threads": 1, "seed": 1}
    learned = lightgbm.Dataset(
        table[:known], market.past["log_price"].to_numpy() - drift[:known], categorical_feature=[0, 1]
    )
    model = lightgbm.train(settings, learned, 500)
    predicted = np.asarray(model.predict(table[known:])) + drift[known:]
    effects = {}
    for number, name in enumerate(TREATMENTS):
        with_it, without = table[:known].copy(), table[:known].copy()
        with_it[:, 6 + number], without[:, 6 + number] = 1, 0
        effects[name] = float(
            np.mean(np.asarray(model.predict(with_it)) - np.asarray(model.predict(without)))
        )
    return Score(median_error(predicted, market), treatment_errors(effects), None)


def models() -> dict[str, Callable[[Market], Score]]:
    """Return the models in the order of the table; boosting only where it is installed."""
    found: dict[str, Callable[[Market], Score]] = {
        "truth": score_truth,
        "penalised": lambda market: score_fit(market, POOLED, None),
        "penalised, t-weights": lambda market: score_fit(market, POOLED, Robust(degrees_of_freedom=5.0)),
        "dummies": lambda market: score_fit(market, DUMMIES, None),
        "mixed model": score_mixed,
    }
    try:
        import lightgbm  # noqa: F401
    except ImportError:
        return found
    return found | {"boosting": score_boosting}


def table(sales: int, seeds: int) -> pl.DataFrame:
    """Return one row a model: median_error_percent, treatment_error, coverage_percent, over the seeds."""
    rows = []
    for name, score in models().items():
        scores = [score(simulate(seed, sales)) for seed in range(seeds)]
        rows.append((name, *(_mean(scores, part) for part in ("error", "treatment_error", "coverage"))))
    schema = ["model", "median_error_percent", "treatment_error", "coverage"]
    return pl.DataFrame(rows, schema=schema, orient="row")


def _mean(scores: list[Score], part: str) -> float | None:
    values = [getattr(score, part) for score in scores]
    return None if values[0] is None else float(np.mean(values))


def main() -> None:
    """Print one table for each size of market."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=20)
    seeds = parser.parse_args().seeds
    for sales in (400, 1500):
        print(f"\n{sales} sales, {seeds} markets")
        with pl.Config(tbl_hide_dataframe_shape=True, tbl_hide_column_data_types=True, float_precision=3):
            print(table(sales, seeds))


if __name__ == "__main__":
    main()
