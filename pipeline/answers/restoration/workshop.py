"""The workshop: the best work on the stock in the hours and the money available."""

from dataclasses import dataclass, replace

import numpy as np
import polars as pl


@dataclass(frozen=True)
class Plan:
    """The best set of works: their rows, and the total. Money is in the base currency.

    `error` is the standard error of `gain`, all works together. `next_hour`
    is what one more hour would add, `next_money` what `money_step` more for materials would.
    """

    chosen: tuple[int, ...]
    gain: float
    hours: float
    money: float
    hours_given: float
    money_given: float
    next_hour: float = 0.0
    next_money: float = 0.0
    money_step: float = 10.0
    error: float = 0.0


def best_plan(works: pl.DataFrame, *, hours: float, money: float) -> Plan:
    """Return the works (columns pair, gain, hours, materials) of greatest average gain in the hours and money.

    At most one a pair; exact, by an integer program. The value of the next hour is found by solving again
    with one more.
    """
    plan = _solve(works, hours, money)
    return replace(
        plan,
        next_hour=_solve(works, hours + 1, money).gain - plan.gain,
        next_money=_solve(works, hours, money + plan.money_step).gain - plan.gain,
    )


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
