"""How long `pairband stock` takes on 10,000 pairs, as a whole process, beside the joint draws alone done plainly.

The peer draws the same number of joint errors of 10,000 pairs from their full covariance (NumPy's Cholesky), which is
what a program does that does not know that the pairs share a few hundred coefficients.

`python -m tests.bench.bench_stock` prints wall and processor time; at most 5 s on 2 cores with nothing else to do.
"""

import resource
import subprocess
import sys
import time
from pathlib import Path
from shutil import copy
from tempfile import TemporaryDirectory

import numpy as np
import polars as pl

from pipeline.market.joint_price import FEWEST_DRAWS
from pipeline.shipped import shipped
from tests.demo_ledger import demo_ledger
from tests.kept import keep_fit
from tests.restorations import demo_market_fitted

PAIRS, SHARED, RUNS = 10_000, 300, 3
COMMAND = (
    "-c",
    "from pipeline.cli import main; main()",
    "stock",
    "stock_many.csv",
    "--on",
    "2026-10-01",
    "--json",
)


def write_folder(folder: Path) -> None:
    """Write the demo's market file and ledger with a fit, and its stock list so many times over."""
    sample = shipped("sample_data")
    copy(sample / "market.toml", folder / "market.toml")
    copy(demo_ledger()[0], folder / "pairband.duckdb")
    keep_fit(folder / "pairband.duckdb", demo_market_fitted())
    one = pl.read_csv(sample / "exports" / "stock.csv", infer_schema=False)
    many = one[np.arange(PAIRS) % one.height].with_columns(stock=pl.format("N-{}", pl.int_range(pl.len())))
    many.write_csv(folder / "stock_many.csv")


def draw_plainly(draws: np.random.Generator) -> float:
    """Return a quantile of the sum of so many pairs, drawn from a full covariance."""
    loadings = 0.05 * draws.standard_normal((PAIRS, SHARED)) / np.sqrt(SHARED)
    covariance = loadings @ loadings.T + 0.04 * np.eye(PAIRS)
    errors = draws.multivariate_normal(np.full(PAIRS, 5.0), covariance, FEWEST_DRAWS, method="cholesky")
    return float(np.quantile(np.exp(errors).sum(axis=1), 0.1))


def main() -> None:
    with TemporaryDirectory() as name:
        write_folder(Path(name))
        for _ in range(RUNS):
            before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
            subprocess.run([sys.executable, *COMMAND], cwd=name, check=True, stdout=subprocess.DEVNULL)
            wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
            processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            start, used = time.perf_counter(), time.process_time()
            draw_plainly(np.random.default_rng(1))
            peer, used = time.perf_counter() - start, time.process_time() - used
            print(
                f"{PAIRS:,} pairs: {wall:.1f} s wall, {processor:.1f} s processor; the draws alone, plainly: "
                f"{peer:.1f} s, {used:.1f} s; ratio {wall / peer:.2f}"
            )


if __name__ == "__main__":
    main()
