"""What a change is split into adds up to it, in whatever order its causes came."""

import numpy as np
import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from pipeline.answers.changed.answer import (
    MARKET_FILE,
    NEW_SALES,
    PAIR,
    PARTS,
    PUT_RIGHT,
    Causes,
    in_money,
    rounded,
    split_change,
    subsets,
)

CAUSES = (NEW_SALES, PUT_RIGHT, MARKET_FILE, PAIR)
LOG_PRICES = st.floats(0, 12)
Values = dict[Causes, np.ndarray]


@st.composite
def valued(draw: st.DrawFn) -> Values:
    """Return values of three pairs (log price) with every choice of some causes."""
    causes = draw(st.lists(st.sampled_from(CAUSES), unique=True, min_size=1))
    three = st.lists(LOG_PRICES, min_size=3, max_size=3).map(np.array)
    return {chosen: draw(three) for chosen in subsets(causes)}


def _all(values: Values) -> Causes:
    return max(values, key=len)


@given(valued())
def test_the_parts_add_up_to_the_whole_change(values: Values) -> None:
    parts = split_change(values)

    np.testing.assert_allclose(
        np.sum(list(parts.values()), axis=0), values[_all(values)] - values[frozenset()], atol=1e-9
    )


@given(valued(), st.permutations(CAUSES))
def test_the_names_of_causes_and_their_order_change_no_part(values: Values, others: list[str]) -> None:
    renamed = dict(zip(CAUSES, others, strict=True))
    again = split_change({frozenset(renamed[cause] for cause in chosen): v for chosen, v in values.items()})

    for cause, part in split_change(values).items():
        np.testing.assert_allclose(again[renamed[cause]], part, atol=1e-9)


@given(valued(), st.sampled_from(CAUSES))
def test_a_cause_that_changes_nothing_has_no_part_at_all(values: Values, idle: str) -> None:
    still = {chosen: values[chosen - {idle}] for chosen in values if chosen - {idle} in values}
    parts = split_change(still | {frozenset((*chosen, idle)): v for chosen, v in still.items()})

    assert parts[idle].tolist() == [0.0, 0.0, 0.0]


@given(
    st.lists(st.tuples(LOG_PRICES, st.lists(st.floats(-3, 3), min_size=5, max_size=5)), min_size=1),
    st.sampled_from([0, 2, 3]),
)
def test_the_money_of_the_parts_adds_up_to_the_smallest_coin(
    pairs: list[tuple[float, list[float]]], decimals: int
) -> None:
    then = np.array([price for price, _ in pairs])
    parts = np.array([steps for _, steps in pairs])
    first, last, money = in_money(then, then + parts.sum(axis=1), parts)
    found = rounded(
        pl.DataFrame({"then": first, "now": last, "change": last - first, "market_error": 0.0}).with_columns(
            pl.Series(name, money[:, number]) for number, name in enumerate(PARTS)
        ),
        decimals,
    )
    coins = found.select((pl.all() * 10**decimals).round().cast(pl.Int64))

    assert coins["change"].to_list() == (coins["now"] - coins["then"]).to_list()
    assert coins["change"].to_list() == coins.select(pl.sum_horizontal(PARTS)).to_series().to_list()


@given(LOG_PRICES, st.lists(st.floats(-0.01, 0.01), min_size=5, max_size=5))
def test_a_small_part_in_money_is_its_share_of_the_value(price: float, steps: list[float]) -> None:
    then, parts = np.array([price]), np.array([steps])
    _, _, money = in_money(then, then + parts.sum(axis=1), parts)

    np.testing.assert_allclose(money, parts * np.exp(price), rtol=0.06, atol=1e-9)
