"""The model's values beside tuned gradient boosting on the same columns: home sales of Seattle, 2016.

LightGBM (absolute error) is fitted at the start of each month of 2016 on all earlier sales, and prices that
month's with the month set to the last one known. It has the columns of bench_seattle_bands.py before they
are cut into bins, no coordinates; area, use and waterfront are categories. Of GRID the settings with the
least mean |e| over 2015, priced in the same way, are taken.

Run: pip install lightgbm; OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_seattle_boosting    (some minutes)
"""

from itertools import product
from typing import Any

import lightgbm
import numpy as np
import polars as pl
from numpy.typing import NDArray

from tests.bench.bench_seattle_bands import END, SPLIT, accuracy_of, read_sales

WORDS = ("area", "use_type", "wfnt")
COLUMNS = (
    *WORDS,
    *("lot_sf", "bldg_grade", "tot_sf", "beds", "baths", "age", "eff_age"),
    "month",
)
FIXED = {
    "objective": "l1",
    "min_child_samples": 20,
    "subsample_freq": 1,
    "verbosity": -1,
    "n_jobs": 1,
}
PACES: tuple[dict[str, Any], ...] = (
    {"n_estimators": 500, "learning_rate": 0.05, "colsample_bytree": 1.0, "subsample": 1.0},
    {"n_estimators": 1500, "learning_rate": 0.02, "colsample_bytree": 0.5, "subsample": 0.7},
)
GRID = tuple({"num_leaves": leaves, **pace} for leaves, pace in product((31, 63, 127), PACES))


def price(sales: pl.DataFrame, months: range, settings: dict[str, Any]) -> NDArray[np.float64]:
    """Return the errors (log price) of the sales of some months, each priced at its start."""
    errors = []
    for month in months:
        known, upcoming = sales.filter(pl.col("month") < month), sales.filter(pl.col("month") == month)
        model = lightgbm.LGBMRegressor(**FIXED, **settings)
        places = list(range(len(WORDS)))
        model.fit(known.select(COLUMNS).to_numpy(), known["log_price"].to_numpy(), categorical_feature=places)
        asked = upcoming.select(COLUMNS).with_columns(month=pl.lit(month - 1)).to_numpy()
        errors.append(upcoming["log_price"].to_numpy() - model.predict(asked))
    return np.concatenate(errors)


def main() -> None:
    """Print MdAPE, PE10 and PE20 over 2015 for each of GRID, and over 2016 for the best of them."""
    sales = read_sales().with_columns(pl.col(WORDS).cast(pl.String).rank("dense").cast(pl.Int32) - 1)
    before = [price(sales, range(SPLIT - 12, SPLIT), settings) for settings in GRID]
    for settings, errors in zip(GRID, before, strict=True):
        print(f"2015 {accuracy_of(errors)}  mean |e| {np.abs(errors).mean():.4f}  {settings}", flush=True)
    best = min(range(len(GRID)), key=lambda number: float(np.abs(before[number]).mean()))
    errors = price(sales, range(SPLIT, END), GRID[best])
    print(
        f"2016 {accuracy_of(errors)}  mean |e| {np.abs(errors).mean():.4f}  (MdAPE, PE10, PE20)  {GRID[best]}"
    )


if __name__ == "__main__":
    main()
