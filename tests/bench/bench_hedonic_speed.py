"""How fast and how small the fit is on synthetic sales in Parquet, beside pyfixest and statsmodels.

Run: python -m tests.bench.bench_hedonic_speed [--rows 1000000 10000000] [--repeats 3]

211 coefficients of nine invented factors, with their errors. Every engine starts from the Parquet file in a
process of its own, whose wall time, processor time (both without imports) and peak memory are measured; the
fastest of the repeats counts. On a busy machine compare the processor times. pyfixest and statsmodels are
optional extras of this bench. "dummies" estimates all 211 coefficients, as ours does; "absorbed" sweeps out
silhouette, month and size and estimates the other 35 only, the lightest form that pyfixest has. An engine
that would need more memory than is free is left out and said so.
"""

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import duckdb
import polars as pl

WRITE = """
COPY (
  WITH drawn AS (
    SELECT
      floor(67 * power(random(), 1.7))::INTEGER AS silhouette,
      floor(random() * 96)::INTEGER AS month,
      240 + 5 * least(14, floor((random() + random() + random()) * 5))::INTEGER AS foot_mm,
      1 + floor(random() * 19) / 2 AS grade,
      floor(random() * 4)::INTEGER AS box,
      floor(random() * 4)::INTEGER AS tags,
      floor(random() * 6)::INTEGER AS venue,
      floor(random() * 5)::INTEGER AS era,
      floor(random() * 3)::INTEGER AS overlay,
      random() + random() + random() + random() - 2 AS noise
    FROM range($rows)
  )
  SELECT
    'silhouette ' || silhouette AS silhouette, month, foot_mm, grade,
    ['original', 'replacement', 'none', 'unknown'][box + 1] AS box,
    ['attached', 'loose', 'none', 'unknown'][tags + 1] AS tags,
    'venue ' || venue AS venue, 'era ' || era AS era, ['vinyl', 'leather', 'textile'][overlay + 1] AS overlay,
    5 + 0.01 * silhouette + 0.004 * month + 0.05 * grade + 0.1 * box - 0.05 * tags + 0.1 * venue
      - 0.2 * era + 0.03 * overlay + noise * 0.4 * (1 + 0.1 * grade) AS log_price
  FROM drawn
) TO '{path}' (FORMAT parquet)
"""

OURS = """
import duckdb
from pipeline.hedonic.database import DatabaseSource
from pipeline.hedonic.fit import fit_source
from pipeline.hedonic.specification import Specification, Term
columns = ("silhouette", "month", "foot_mm", "grade", "box", "tags", "venue", "era", "overlay")
kinds = {kinds}
terms = tuple(Term(name, kinds.get(name, "level"), (name,)) for name in columns)
def run():
    with duckdb.connect() as connection:
        found = fit_source(DatabaseSource(connection, path), Specification("log_price", terms))
    errors = found.covariance.diagonal() ** 0.5
    rows = found.labels.filter(found.labels["position"].is_not_null()).iter_rows(named=True)
    return {{row["term"] + " " + row["level"]: [float(b), float(s)]
            for row, b, s in zip(rows, found.coefficients, errors)}}
"""

PYFIXEST = """
import pandas as pd
import pyfixest as pf
def run():
    sales = pd.read_parquet(path)
    found = pf.feols({formula!r}, data=sales, vcov="iid", copy_data=False, store_data=False, lean=True)
    return {{name: [float(found.coef()[name]), float(found.se()[name])] for name in found.coef().index}}
"""

STATSMODELS = """
import numpy as np
import pandas as pd
import statsmodels.api as sm
def run():
    sales = pd.read_parquet(path)
    columns = list(sales.columns.drop("log_price"))
    dummies = pd.get_dummies(sales[columns].astype("category"), drop_first=True, dtype=float)
    found = sm.OLS(sales["log_price"].to_numpy(), sm.add_constant(dummies.to_numpy())).fit()
    return {name: [float(b), float(s)] for name, b, s in zip(["const", *dummies.columns], found.params, found.bse)}
"""

TIMED = """
import json, resource, sys, time, warnings
warnings.simplefilter("ignore")
path = sys.argv[1]
{body}
def processor():
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime
begun, used = time.perf_counter(), processor()
found = run()
measured = {{"seconds": time.perf_counter() - begun, "cpu_seconds": processor() - used, "found": found}}
measured["mebibytes"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps(measured))
"""

DUMMIES = "log_price ~ " + " + ".join(
    f"C({name})"
    for name in ("silhouette", "month", "foot_mm", "grade", "box", "tags", "venue", "era", "overlay")
)
ABSORBED = (
    "log_price ~ C(grade) + C(box) + C(tags) + C(venue) + C(era) + C(overlay) | silhouette + month + foot_mm"
)

LEVELS = OURS.format(kinds="{}")
PENALISED = OURS.format(
    kinds="{'silhouette': 'pooled', 'month': 'walk', 'foot_mm': 'curve', 'grade': 'curve', 'venue': 'pooled'}"
)
ENGINES: dict[str, tuple[str, float, int]] = {
    "pairband, least squares": (LEVELS, 0.05, 10**9),
    "pairband, REML": (PENALISED, 0.05, 10**9),
    "pyfixest, absorbed": (PYFIXEST.format(formula=ABSORBED), 1.65, 10**9),
    "pyfixest, dummies": (PYFIXEST.format(formula=DUMMIES), 7.7, 10**6),
    "statsmodels, dense": (STATSMODELS, 7.0, 10**6),
}
"""Each engine's code, its memory in GiB a million rows, and the most rows that it is asked for."""


def free_gibibytes() -> float:
    """Return the memory that is free for a new process."""
    lines = dict(line.split(":") for line in Path("/proc/meminfo").read_text(encoding="ascii").splitlines())
    return int(lines["MemAvailable"].split()[0]) / 2**20


def time_engine(body: str, path: Path, repeats: int) -> dict[str, object]:
    """Return the fastest of the repeats: seconds, mebibytes, found; or the fault."""
    best: dict[str, object] = {}
    for _ in range(repeats):
        command = [sys.executable, "-c", TIMED.format(body=body), str(path)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode:
            return {"fault": done.stderr.strip().splitlines()[-1]}
        measured = json.loads(done.stdout.splitlines()[-1])
        if not best or measured["seconds"] < best["seconds"]:
            best = measured
    return best


def measure(rows: int, repeats: int, folder: Path) -> pl.DataFrame:
    """Return one row an engine: engine, rows, seconds, cpu_seconds, mebibytes, the ratios to ours, note."""
    path = folder / f"sales_{rows}.parquet"
    with duckdb.connect() as connection:
        connection.execute("SELECT setseed(0.42)")
        connection.execute(WRITE.replace("{path}", str(path)), {"rows": rows})
    lines: list[dict[str, object]] = []
    ours: dict[str, object] = {}
    for engine, (body, gibibytes, most) in ENGINES.items():
        need = gibibytes * rows / 1e6
        if rows > most or 1.1 * need > free_gibibytes():
            lines.append({"engine": engine, "rows": rows, "note": f"needs about {need:.0f} GiB: left out"})
            continue
        measured = time_engine(body, path, repeats if engine.startswith("pairband") else 1)
        if "fault" in measured:
            lines.append({"engine": engine, "rows": rows, "note": str(measured["fault"])[:60]})
            continue
        ours = ours or measured
        lines.append(
            {
                "engine": engine,
                "rows": rows,
                "seconds": measured["seconds"],
                "cpu_seconds": measured["cpu_seconds"],
                "mebibytes": measured["mebibytes"],
                "times_slower": float(measured["seconds"]) / float(ours["seconds"]),  # type: ignore[arg-type]
                "times_the_cpu": float(measured["cpu_seconds"]) / float(ours["cpu_seconds"]),  # type: ignore[arg-type]
                "times_larger": float(measured["mebibytes"]) / float(ours["mebibytes"]),  # type: ignore[arg-type]
                "note": agreement(ours["found"], measured["found"]),  # type: ignore[arg-type]
            }
        )
    path.unlink()
    return pl.DataFrame(lines, infer_schema_length=None)


def agreement(ours: dict[str, list[float]], theirs: dict[str, list[float]]) -> str:
    """Say how far the steps between grades, and their errors, are from ours (the same in any coding)."""
    mine = {name.split()[-1]: pair for name, pair in ours.items() if name.startswith("grade ")}
    others: dict[str, list[float]] = {}
    for name, pair in theirs.items():
        if "grade" in name:
            level = name.split("T.")[-1].rstrip("]").split("_")[-1].split()[-1]
            others[level.removesuffix(".0")] = pair
    shared = sorted(set(mine) & set(others))
    if len(shared) < 2 or mine == others:
        return ""
    first = shared[0]
    apart = [abs((mine[k][0] - mine[first][0]) - (others[k][0] - others[first][0])) for k in shared]
    return f"grade steps differ by {max(apart):.0e}"


def main() -> None:
    """Print one table for each number of rows."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="+", default=[1_000_000, 10_000_000])
    parser.add_argument("--repeats", type=int, default=3)
    asked = parser.parse_args()
    with (
        tempfile.TemporaryDirectory() as folder,
        pl.Config(tbl_rows=20, tbl_cols=20, tbl_width_chars=200),
    ):
        for rows in asked.rows:
            print(measure(rows, asked.repeats, Path(folder)))


if __name__ == "__main__":
    main()
