"""What the rule of buying would have earned: by hand, and by nothing that the kept bid could know."""

from datetime import date
from decimal import Decimal

import polars as pl
import pytest

from pipeline.answers.outcomes.profit import AMOUNT
from pipeline.answers.outcomes.rule import EARNED, EXPECTED, Rule, earn_by_rule
from pipeline.config import Market

BUYER = {"party": "buyer", "starts_on": date(2015, 1, 1), "tiers": [{"rate": "0.2"}]}
SELLER = {"party": "seller", "starts_on": date(2015, 1, 1), "tiers": [{"rate": "0.1"}]}
MARKET = Market.model_validate(
    {
        "base_currency": "EUR",
        "eras": [{"name": "first", "run": "original", "first_year": 1984}],
        "venues": [
            {
                "name": "Quay",
                "kind": "auction",
                "currency": "EUR",
                "fees": [BUYER, SELLER],
                "increments": [{"step": 10}],
            },
            {"name": "Counter", "kind": "shop", "currency": "EUR"},
        ],
        "imports": [{"venue": "Quay", "freight": 5}],
        "buying": {"sells_at": "Counter", "costs": 4},
    }
)
LOT = {
    "value_id": "v1",
    "question": "lot",
    "said_on": date(2024, 3, 1),
    "pair": "Gannet Hi first",
    "venue": "Quay",
    "median": 200.0,
    "low": 150.0,
    "high": 260.0,
    "price": 120.0,
    "price_currency": "EUR",
    "record_id": "r1",
    "status": "sold",
    "ended_on": date(2024, 3, 9),
    "price_native": 100.0,
    "price_basis": "hammer",
    "native_currency": "EUR",
    "rate": 1.0,
    "resale_rate": 1.0,
    "expected_net": 190.0,
}
AGAIN = {
    "first_id": "r1",
    "record_id": "r2",
    "stock_ref": "A7",
    "venue": "Counter",
    "sold_on": date(2024, 8, 1),
    "currency": "EUR",
    "price_basis": "all-in",
    "price_native": Decimal(210),
    "all_in_native": Decimal(210),
    "net_native": None,
    "rate": 1.0,
    "price_paid": Decimal(210),
    "flags": [],
}


def earn(
    *lots: dict[str, object], again: dict[str, object] | None = None, as_of: date = date(2025, 1, 1)
) -> Rule:
    money = dict.fromkeys(("price_native", "all_in_native", "net_native", "price_paid"), AMOUNT)
    sales = pl.DataFrame([AGAIN | (again or {})], schema_overrides={**money, "flags": pl.List(pl.String)})
    settled = pl.DataFrame(
        [LOT | lot for lot in lots or ({},)], schema_overrides={"expected_net": pl.Float64}
    )
    return earn_by_rule(settled, sales.clear() if again is None else sales, MARKET, as_of=as_of)


def test_a_lot_is_bought_at_one_bid_above_its_hammer_price_with_all_charges() -> None:
    bought = earn().bought.row(0, named=True)
    assert (bought["paid"], bought["landed"]) == (110, 110 * 1.2 + 5)


@pytest.mark.parametrize(("most", "bought"), [(109.0, 0), (110.0, 1)])
def test_a_lot_is_bought_only_where_the_next_bid_is_within_the_maximum_bid(most: float, bought: int) -> None:
    found = earn({"price": most})
    assert (found.ended, found.bought.height) == (1, bought)


def test_a_pair_that_was_sold_again_has_earned_what_that_sale_left() -> None:
    bought = earn(again={}).bought.row(0, named=True)
    assert (bought["kind"], bought["gain"], bought["low"], bought["stock_ref"]) == (
        EARNED,
        pytest.approx(210 - 4 - 137),
        None,
        "A7",
    )


def test_of_a_pair_that_was_not_sold_again_only_what_was_expected_is_known() -> None:
    bought = earn().bought.row(0, named=True)
    assert (bought["kind"], bought["gain"]) == (EXPECTED, pytest.approx(190 - 137))


def test_an_expected_gain_has_the_band_of_the_value() -> None:
    bought = earn().bought.row(
        0, named=True
    )  # the counter keeps nothing: 194 there, of which a band of 0.75 to 1.3
    ends = [194 * share - 4 - 137 for share in (0.75, 1.3)]
    assert [bought["low"], bought["high"]] == pytest.approx(ends, abs=0.01)


@pytest.mark.parametrize(
    ("planted", "as_of"),
    [
        ({"sold_on": date(2024, 3, 9)}, date(2025, 1, 1)),
        ({"sold_on": date(2024, 2, 1)}, date(2025, 1, 1)),
        ({"sold_on": date(2024, 8, 1)}, date(2024, 7, 31)),
    ],
)
def test_a_sale_that_is_not_after_the_lot_or_is_after_the_day_asked_for_earns_nothing(
    planted: dict[str, object], as_of: date
) -> None:
    high = {"price_native": Decimal(9000), "all_in_native": Decimal(9000), "price_paid": Decimal(9000)}
    found = earn(again=high | planted, as_of=as_of)
    assert found.bought.drop("sale_id", "sold_at", "stock_ref", "sold_on").equals(
        earn().bought.drop("sale_id", "sold_at", "stock_ref", "sold_on")
    )


def test_a_lot_that_ended_after_the_day_asked_for_is_not_bought() -> None:
    assert earn(as_of=date(2024, 3, 8)).ended == 0


def test_a_lot_that_was_kept_on_several_days_is_bought_once_by_the_last_bid() -> None:
    found = earn({"price": 90.0}, {"value_id": "v2", "said_on": date(2024, 3, 5)})
    assert (found.ended, found.bought["maximum_bid"].to_list()) == (1, [120.0])


@pytest.mark.parametrize(
    "change", [{"status": "unsold"}, {"price_basis": "all-in"}, {"native_currency": "GBP"}]
)
def test_a_lot_without_a_hammer_price_in_the_currency_of_the_bid_is_not_bought(
    change: dict[str, object],
) -> None:
    assert earn(change).ended == 0


def test_a_lot_without_an_expectation_is_counted_apart() -> None:
    found = earn({"expected_net": None})
    assert (found.bought.height, found.unknown) == (0, 1)
