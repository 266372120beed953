"""What a pair that was sold has left: by hand, and what is not known is said and in no sum."""

from datetime import date
from decimal import Decimal

import polars as pl
import pytest

from pipeline.answers.outcomes.profit import AMOUNT, Profits, account_for, profits_of, sum_up
from pipeline.answers.outcomes.profit_tables import (
    NO_BOOKKEEPING,
    profit_cautions,
    profits_table,
    state_profits,
)
from pipeline.config import Market

RATES = pl.DataFrame(
    {
        "currency": ["GBP", "GBP"],
        "day": [date(2024, 1, 2), date(2024, 6, 3)],
        "per_euro": [0.80, 0.90],
    }
)
BUYER = {"party": "buyer", "starts_on": date(2015, 1, 1), "tiers": [{"rate": "0.25"}], "tax_rate": "0.2"}
SELLER = {"party": "seller", "starts_on": date(2015, 1, 1), "tiers": [{"rate": "0.1"}], "minimum": 12}
QUAY = {"name": "Quay", "kind": "auction", "currency": "GBP", "fees": [BUYER, SELLER], "freight": 8}
COUNTER = {"name": "Counter", "kind": "shop", "currency": "EUR", "fees": [SELLER]}
PIER = {"name": "Pier", "kind": "online", "currency": "EUR"}
SALE = {
    "stock_ref": "A1",
    "record_id": "r1",
    "venue": "Quay",
    "sold_on": date(2024, 6, 10),
    "currency": "GBP",
    "price_basis": "hammer",
    "price_native": Decimal(180),
    "all_in_native": Decimal(234),
    "net_native": Decimal(162),
    "rate": 0.9,
    "price_paid": Decimal(260),
    "flags": [],
    "silhouette": "Gannet Hi",
    "colourway": "Kelp",
    "era": "first",
}
PAIR = {
    "stock_ref": "A1",
    "bought_on": date(2024, 1, 5),
    "cost_native": Decimal(80),
    "cost_currency": "GBP",
    "work_native": Decimal(10),
    "work_currency": "EUR",
}
AT_THE_COUNTER = {
    "venue": "Counter",
    "currency": "EUR",
    "price_basis": "all-in",
    "price_native": Decimal(240),
    "all_in_native": Decimal(240),
    "net_native": Decimal(216),
    "rate": 1.0,
    "price_paid": Decimal(240),
}


def market(**rule: str) -> Market:
    era = {"name": "first", "run": "original", "first_year": 1984}
    venues = [QUAY, COUNTER, PIER]
    return Market.model_validate({"base_currency": "EUR", "eras": [era], "venues": venues, "selling": rule})


def sales(*changes: dict[str, object]) -> pl.DataFrame:
    money = dict.fromkeys(("price_native", "all_in_native", "net_native", "price_paid"), AMOUNT)
    rows = [SALE | change for change in changes or ({},)]
    return pl.DataFrame(rows, schema_overrides={**money, "flags": pl.List(pl.String), "era": pl.String})


def pairs(*changes: dict[str, object]) -> pl.DataFrame:
    money = dict.fromkeys(("cost_native", "work_native"), AMOUNT)
    texts = dict.fromkeys(("stock_ref", "cost_currency", "work_currency"), pl.String())
    rows = [PAIR | change for change in changes or ({},)]
    return pl.DataFrame(rows, schema_overrides={**money, **texts, "bought_on": pl.Date()})


def account(
    sale: dict[str, object] | None = None, pair: dict[str, object] | None = None, **rule: str
) -> dict[str, object]:
    """Return the account of one pair that was sold."""
    return account_for(sold(sale or {}, pair or {}), market(**rule), RATES).row(0, named=True)


def sold(sale: dict[str, object], pair: dict[str, object]) -> pl.DataFrame:
    """Return a pair of the stock with its sale."""
    return pairs(pair).join(sales(sale), on="stock_ref")


def test_a_pair_sold_at_auction_abroad_is_accounted_for_as_worked_out_by_hand() -> None:
    found = account()
    # £180 hammer, 25 % premium and 20 % tax on it: £234; 10 % commission: £162 left; all at 0.90. Cost £80 at 0.80.
    by_hand = {
        "paid": "260",
        "buyer_fees": "60",
        "sales_tax": "0",
        "venue_fees": "20",
        "net": "180",
        "freight": "8",
        "cost": "100",
        "work": "10",
        "profit": "62",
    }
    assert {name: found[name] for name in by_hand} == {
        name: Decimal(value) for name, value in by_hand.items()
    }


def test_what_the_rate_made_between_buying_and_selling_stands_apart() -> None:
    found = account()  # £162 were worth €202.50 at the rate of the day of buying, €180 on the day of sale
    assert (found["rate_gain"], found["traded"]) == (Decimal("-22.5"), Decimal("84.5"))


def test_at_the_owners_own_counter_the_venue_keeps_nothing() -> None:
    found = account(AT_THE_COUNTER)
    assert (found["venue_fees"], found["net"], found["profit"]) == (0, 240, 130)


def test_tax_on_the_margin_is_of_the_price_above_the_cost() -> None:
    found = account(AT_THE_COUNTER, tax="margin", tax_rate="0.2")
    assert found["tax"] == Decimal("23.33")  # a sixth of 240 - 100


def test_no_tax_on_the_margin_is_due_on_a_loss() -> None:
    assert account(AT_THE_COUNTER, {"cost_native": Decimal(800)}, tax="margin", tax_rate="0.2")["tax"] == 0


def test_tax_in_full_is_of_the_whole_price() -> None:
    assert account(AT_THE_COUNTER, tax="full", tax_rate="0.2")["tax"] == 40


def test_sales_tax_that_the_record_adds_is_not_taxed_again() -> None:
    found = account(
        AT_THE_COUNTER | {"all_in_native": Decimal(288), "price_paid": Decimal(288)},
        tax="full",
        tax_rate="0.2",
    )
    assert (found["sales_tax"], found["tax"], found["net"]) == (48, 0, 240)


def test_a_price_with_the_premium_in_it_leaves_the_same_net_as_its_hammer_price() -> None:
    stated = {"price_basis": "all-in", "price_native": Decimal(234), "net_native": None}
    assert account(stated)["net"] == account()["net"]


def test_what_was_refunded_in_part_leaves_the_fees_of_the_whole_price() -> None:
    refunded = {
        "price_native": Decimal(171),
        "all_in_native": Decimal(225),
        "net_native": Decimal(153),
        "price_paid": Decimal(250),
        "flags": ["part refunded"],
    }
    found = account(refunded)
    assert (found["buyer_fees"], found["sales_tax"], found["venue_fees"]) == (60, 0, 20)


@pytest.mark.parametrize(
    ("sale", "pair", "why"),
    [
        ({}, {"cost_native": None}, "no cost is stated"),
        ({}, {"cost_currency": None}, "its cost names no currency"),
        ({}, {"bought_on": None}, "its cost is in GBP, and the day of buying is not known"),
        ({}, {"bought_on": date(2023, 1, 1)}, "no exchange rate of GBP is known on 2023-01-01 or before"),
        (
            AT_THE_COUNTER | {"venue": "Pier", "net_native": None},
            {"cost_currency": "EUR"},
            "the venue has no seller's fee schedule",
        ),
    ],
)
def test_without_a_cost_or_a_net_there_is_no_profit_and_it_is_said_why(
    sale: dict[str, object], pair: dict[str, object], why: str
) -> None:
    found = account(sale, pair)
    assert (found["profit"], found["why"]) == (None, why)


def test_no_pair_sold_makes_no_sum() -> None:
    whole = sum_up(account_for(sold({}, {}).clear(), market(), RATES), None)
    assert whole.select("sold", "known", "net", "profit").row(0) == (0, 0, None, None)


def of_two() -> Profits:
    listed = pairs({}, {"stock_ref": "A2", "cost_native": None}, {"stock_ref": "A3"}, {"stock_ref": "A3"})
    known = sales(*({"stock_ref": number, "record_id": f"r{number}"} for number in ("A1", "A2", "A3", "X")))
    return profits_of(
        listed.with_columns(listed_on=pl.lit(None, pl.Date), since="bought_on").drop("bought_on"),
        known,
        market(),
        RATES,
        by="month",
    )


def test_totals_say_of_how_many_pairs_they_are_not() -> None:
    profits = of_two()
    assert state_profits(profits, "EUR") == (
        "1 pair sold for €180 net, at a cost of €100: a profit of €62, 34\u00a0% of the net.",
        "Nothing is taken off for your tax: none is stated.",
        "In no sum: 1 of 2 pairs sold (no cost is stated: 1).",
    )


def test_what_nobody_stated_is_not_shown_as_zero() -> None:
    profits = of_two()
    shown = profits_table(profits, "EUR")
    assert (shown.texts_of("taxes"), shown.texts_of("freight")) == (["–", "–"], ["€8", "€8"])


def test_profits_say_what_they_leave_out_and_that_they_are_no_bookkeeping() -> None:
    profits = of_two()
    cautions = profit_cautions(profits)
    assert [one.split(":")[0] for one in cautions[:-1]] == [
        "No tax of yours is taken off",
        "2 pairs may be sold or not, and in no sum",
        "1 more sale with a stock number of yours",
    ]
    assert cautions[-1] == NO_BOOKKEEPING
