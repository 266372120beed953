"""Are the stated errors honest? The demo's known truth, drawn again and again with new seeds.

Run: python -m tests.bench.bench_known_truth [--seeds 50] [--sales 1500]

Each market is fitted with the model that `pairband fit` would use on it. A step is what one attribute does
to the price of one reference pair (the grade from 8 to 9, say), with its stated standard error; its interval
is Student's with the residual degrees of freedom. Printed a kind of attribute: how many steps, the root mean
square of (found - true) / error, which is near 1 where the errors are honest, the share of intervals that
hold the truth at 80 and 95 %, and the root mean squared error of the steps in log price.
"""

import argparse

import numpy as np
import polars as pl
from scipy import stats

from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.predict import differences
from pipeline.market.fit import fit_prices
from pipeline.market.model import FACTORS
from sample_data import truth
from sample_data.generator import draw_sales
from tests import drawn

REFERENCE: dict[str, object] = {
    "silhouette": "Gannet Hi",
    "era": "second",
    "size_mm": 270,
    "grade": 8.0,
    "box": "none",
    "tags": "none",
    "overlay": "unknown",
    "parts": [],
    "defects": [],
    "treatments": [],
    "month": 24300,
}
"""A pair of an original run at which every effect below is zero."""


def steps() -> list[tuple[str, dict[str, object], float]]:
    """Return (kind, what changes, the true step in log price) for every step from the reference pair."""
    found: list[tuple[str, dict[str, object], float]] = []
    found += [("size", {"size_mm": size}, effect) for size, effect in truth.FOOT_MM.items() if effect]
    found += [("grade", {"grade": grade}, effect) for grade, effect in truth.GRADES.items() if effect]
    for kind, effects in (("box", truth.BOX), ("tags", truth.TAGS)):
        found += [(kind, {kind: level}, effect) for level, effect in effects.items() if effect]
    for kind, flags in (("parts", truth.PARTS), ("defects", truth.DEFECTS)):
        found += [(kind, {kind: [flag]}, effect) for flag, effect in flags.items()]
    for treatment, effect in truth.TREATMENTS.items():
        whole = effect + truth.TREATMENTS_ON_ORIGINALS[treatment]
        found.append(("treatments", {"treatments": [treatment]}, whole))
    return found


def pairs(changes: list[dict[str, object]], sales: pl.DataFrame) -> pl.DataFrame:
    """Return the reference pair with each of the changes made, in the columns that the model reads."""
    usual = sales.filter(pl.col("silhouette") == REFERENCE["silhouette"])
    known = {**REFERENCE, "colourway": usual["colourway"].mode()[0], "venue": sales["venue"].mode()[0]}
    rows = [{**known, **change} for change in changes]
    return pl.DataFrame({name: [row[name] for row in rows] for name in FACTORS}, schema=FACTORS)


def measure(seed: int, sales: int) -> pl.DataFrame:
    """Return one row a step: kind, score, inside_80, inside_95, error (found - true), of one market."""
    records = drawn.priced(draw_sales(sales, seed=seed))
    market = drawn.scenario_market()
    fitted = fit_prices(FrameSource(records), market)
    told = steps()
    found = differences(fitted, pairs([{}], records), pairs([change for _, change, _ in told], records))
    known = found.with_columns(
        pl.Series("kind", [kind for kind, _, _ in told]), pl.Series("true", [true for _, _, true in told])
    )
    score = (pl.col("effect") - pl.col("true")) / pl.col("error")
    limits = {level: float(stats.t.ppf((1 + level / 100) / 2, fitted.residual_df)) for level in (80, 95)}
    return known.select(
        "kind",
        score.alias("score"),
        *((score.abs() <= limit).alias(f"inside_{level}") for level, limit in limits.items()),
        (pl.col("effect") - pl.col("true")).alias("error"),
    )


def main() -> None:
    """Print one line a kind of attribute, and one over all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--sales", type=int, default=1500)
    asked = parser.parse_args()
    whole = pl.concat([measure(1000 + seed, asked.sales) for seed in range(asked.seeds)])
    doubled = pl.concat([whole, whole.with_columns(pl.lit("all").alias("kind"))])
    lines = doubled.group_by("kind", maintain_order=True).agg(
        pl.len().alias("steps"),
        (pl.col("score") ** 2).mean().sqrt().alias("score_rms"),
        (100 * pl.col("inside_80").mean()).alias("inside_80_percent"),
        (100 * pl.col("inside_95").mean()).alias("inside_95_percent"),
        (pl.col("error") ** 2).mean().sqrt().alias("error_rms"),
    )
    with pl.Config(tbl_hide_dataframe_shape=True, tbl_hide_column_data_types=True, float_precision=3):
        print(lines)
    print(f"{asked.seeds} markets of {asked.sales} sales; numpy {np.__version__}")


if __name__ == "__main__":
    main()
