"""The model's values beside gradient boosting on the same columns: home sales of Seattle, 2016.

LightGBM (absolute error, 500 trees, 63 leaves, rate .05; not tuned further) is fitted at the start of each
month of 2016 on all earlier sales, and prices that month's with the month set to the last one known. It
has the columns of bench_seattle_bands.py before they are cut into bins, no coordinates.

Run: pip install lightgbm; OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_seattle_boosting
"""

import lightgbm
import numpy as np
import polars as pl

from tests.bench.bench_seattle_bands import END, SPLIT, accuracy_of, read_sales

COLUMNS = (
    *("area", "lot_sf", "wfnt", "bldg_grade", "tot_sf", "beds", "baths", "age", "eff_age", "use_type"),
    "month",
)
SETTINGS = {
    "objective": "l1",
    "n_estimators": 500,
    "num_leaves": 63,
    "learning_rate": 0.05,
    "min_child_samples": 20,
    "verbosity": -1,
    "n_jobs": 1,
}


def main() -> None:
    """Print MdAPE, PE10 and PE20 over 2016."""
    sales = read_sales().with_columns(
        pl.col("area", "use_type", "wfnt").cast(pl.String).rank("dense").cast(pl.Int32)
    )
    errors = []
    for month in range(SPLIT, END):
        known, upcoming = sales.filter(pl.col("month") < month), sales.filter(pl.col("month") == month)
        model = lightgbm.LGBMRegressor(**SETTINGS)
        model.fit(known.select(COLUMNS).to_numpy(), known["log_price"].to_numpy())
        asked = upcoming.select(COLUMNS).with_columns(month=pl.lit(month - 1)).to_numpy()
        errors.append(upcoming["log_price"].to_numpy() - model.predict(asked))
    print(f"boosting, 2016               MdAPE {accuracy_of(np.concatenate(errors))}  (MdAPE, PE10, PE20)")


if __name__ == "__main__":
    main()
