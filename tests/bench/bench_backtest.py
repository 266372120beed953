"""Whether the bidding rule gains what it forecasts: twenty draws of the demo's truth, a back-test of each.

`python -m tests.bench.bench_backtest` prints, for each seed, the mean gain by the value alone, forecast and realised,
and how often the realised gain is in the range of the forecast. 80 % is stated; expect more, since the range takes
the errors of all fits as one. The drawn market rises by a percent a month, which a forecast does not know, so the
realised gain is above it.
"""

from dataclasses import replace

import numpy as np

from tests.backtests import RULE, drawn_backtest

SEEDS = 20
SALES = 1500
TERMS = replace(RULE, margin=0.1, confidence=0.7)


def main() -> None:
    inside, hoped, forecast, realised = [], [], [], []
    for seed in range(1, SEEDS + 1):
        found = drawn_backtest(SALES, seed, TERMS)
        inside.append(found.low <= found.realised <= found.high)
        hoped.append(found.hoped)
        forecast.append(found.forecast)
        realised.append(found.realised)
        print(
            f"seed {seed:2}: {found.won.height:3} of {found.lots} won; hoped {found.hoped:6.1f}, forecast "
            f"{found.forecast:6.1f} ({found.low:.1f} to {found.high:.1f}), realised {found.realised:6.1f}",
            flush=True,
        )
    print(
        f"in the band: {sum(inside)} of {SEEDS}; means: hoped {np.mean(hoped):.1f}, forecast {np.mean(forecast):.1f}, "
        f"realised {np.mean(realised):.1f} EUR a won lot"
    )


if __name__ == "__main__":
    main()
