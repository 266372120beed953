"""How long and how much memory a fit with calibration takes where a market has thousands of silhouettes.

Run: python -m tests.bench.bench_many_levels

Each market is fitted in a process of its own (`fit_market`: the whole and up to twelve past origins); seconds are
those of the fit (wall and processor; on a busy machine compare the latter), megabytes the most that its process ever
held, the drawing of the sales included. The bars are 20 seconds and 1 GB.
"""

import json
import resource
import subprocess
import sys
import time

from tests import drawn

MARKETS = {
    "6,000 sales of 2,000 silhouettes": (6000, 2000, 8),
    "6,000 sales of 150 silhouettes in 8 colourways each": (6000, 150, 8),
}


def measure(count: int, silhouettes: int, colourways: int) -> dict[str, float]:
    """Return the seconds of a fit and the peak memory of this process in megabytes."""
    sales = drawn.sales_of_many(count, silhouettes=silhouettes, colourways=colourways)
    begun, worked = time.perf_counter(), time.process_time()
    found = drawn.fitted_to(sales)
    seconds, processor = time.perf_counter() - begun, time.process_time() - worked
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {
        "seconds": seconds,
        "processor": processor,
        "megabytes": memory,
        "coefficients": found.fit.layout.size,
    }


def main() -> None:
    """Fit each market in a process of its own, and print what it took."""
    if len(sys.argv) > 1:
        print(json.dumps(measure(*map(int, sys.argv[1:]))))
        return
    for name, sizes in MARKETS.items():
        command = [sys.executable, "-m", "tests.bench.bench_many_levels", *map(str, sizes)]
        found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        print(
            f"{name}: {found['seconds']:.1f} s ({found['processor']:.1f} s of processor), "
            f"{found['megabytes']:,.0f} MB, {found['coefficients']:,.0f} coefficients"
        )


if __name__ == "__main__":
    main()
