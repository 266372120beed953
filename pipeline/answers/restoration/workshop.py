"""The workshop: the best work on the stock in the hours and the money available."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from pipeline.streams import libraries_silenced

HOUR = 0.25
"""The step in which more hours are tried."""
COIN = 1.0
"""The step in which more money is tried."""
SHOWS = 0.01
"""The share of a plan's gain that more hours or money must add before they are worth a word."""


@dataclass(frozen=True)
class Addition:
    """The fewest more hours, or the least more money, that add to a plan's gain, and what they add."""

    more: float
    gain: float


@dataclass(frozen=True)
class Plan:
    """The best set of works: their rows, and the total. Money is in the base currency.

    `error` is the standard error of `gain`, all works together. `at_sale` has the 80 % band of one sale of each pair
    after its work, in the order of `chosen`. `more_hours` is the next step of hours that adds to the gain in the same
    money, `more_money` that of money in the same hours; None where no more adds.
    """

    chosen: tuple[int, ...]
    gain: float
    hours: float
    money: float
    hours_given: float
    money_given: float
    more_hours: Addition | None = None
    more_money: Addition | None = None
    error: float = 0.0
    at_sale: tuple[tuple[float, float], ...] = ()


def best_plan(works: pl.DataFrame, *, hours: float, money: float) -> Plan:
    """Return the works (columns pair, gain, hours, materials) of greatest average gain in the hours and money.

    At most one a pair; exact, by an integer program. What more hours or money add is found by solving again.
    """
    plan = _solve(works, hours, money)
    all_hours, all_money = works.group_by("pair").max().select("hours", "materials").sum().row(0)
    return replace(
        plan,
        more_hours=_next(plan.gain, lambda more: _solve(works, hours + more, money).gain, HOUR, all_hours),
        more_money=_next(plan.gain, lambda more: _solve(works, hours, money + more).gain, COIN, all_money),
    )


def _next(gain: float, gain_with: Callable[[float], float], step: float, most: float) -> Addition | None:
    """Return the least addition, in whole steps up to `most`, that raises the gain by more than SHOWS of it."""
    enough = gain * (1 + SHOWS)
    few, many = 0, math.ceil(most / step)
    if many == 0 or gain_with(many * step) <= enough:
        return None
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (few, middle) if gain_with(middle * step) > enough else (middle, many)
    return Addition(many * step, gain_with(many * step) - gain)


def _solve(works: pl.DataFrame, hours: float, money: float) -> Plan:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array, vstack

    paying = works.with_row_index("place").filter(pl.col("gain") > 0)
    if not paying.height:
        return Plan((), 0.0, 0.0, 0.0, hours, money)
    gain = paying["gain"].to_numpy()
    spent = paying.select("hours", "materials").to_numpy().T
    pairs = paying["pair"].rank("dense").to_numpy().astype(np.int64) - 1
    one_each = coo_array((np.ones(len(pairs)), (pairs, np.arange(len(pairs)))))
    rows = vstack([coo_array(spent), one_each]).tocsc()
    most = np.concatenate([[hours, money], np.ones(one_each.shape[0])])
    with libraries_silenced():
        solved = milp(
            -gain,
            integrality=np.ones(len(gain)),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(rows, ub=most),
            options={"mip_rel_gap": 0.0},
        )
    taken = np.flatnonzero(np.round(solved.x) == 1)
    return Plan(
        tuple(int(number) for number in paying["place"].to_numpy()[taken]),
        float(gain[taken].sum()),
        float(spent[0, taken].sum()),
        float(spent[1, taken].sum()),
        hours,
        money,
    )
