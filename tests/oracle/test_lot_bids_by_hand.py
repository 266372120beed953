"""Landed costs and maximum bids worked out by hand, at and beside every tier edge."""

from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from pipeline.answers.lots.landed import Landing, landing
from pipeline.config import Import, Market, Venue

DAY = date(2026, 10, 1)
MARGINAL: dict[str, Any] = {
    "party": "buyer",
    "starts_on": date(2015, 1, 1),
    "tiers": [{"up_to": 500, "rate": "0.25"}, {"up_to": 2000, "rate": "0.20"}, {"rate": "0.12"}],
    "tax_rate": "0.20",
}
WHOLE_LOT: dict[str, Any] = {
    "party": "buyer",
    "starts_on": date(2015, 1, 1),
    "method": "whole-lot",
    "tiers": [{"up_to": 100, "rate": "0.30"}, {"rate": "0.10"}],
    "minimum": "5",
}
STEPS = ({"up_to": 100, "step": 5}, {"up_to": 500, "step": 10}, {"step": 50})


def landing_at(
    fees: dict[str, Any], *, rate: float = 1.0, imported: dict[str, Any] | None = None, steps: Any = STEPS
) -> Landing:
    """Return the landing of a house with these fees, in a market of euros."""
    house = Venue.model_validate(
        {"name": "Quay", "kind": "auction", "currency": "EUR", "fees": [fees], "increments": steps}
    )
    market = Market.model_validate(
        {
            "base_currency": "EUR",
            "eras": [{"name": "first", "run": "original", "first_year": 1984}],
            "venues": [house.model_dump()],
            "imports": [{"venue": "Quay", **imported}] if imported else [],
        }
    )
    return landing(house, market, rate=rate, on=DAY)


def points(*euros: float) -> Any:
    return np.array([round(euro * 10_000) for euro in euros], dtype=np.int64)


@pytest.mark.parametrize(
    ("bid", "cents"),
    [
        (100, 13000),  # 100 + 25 + 5 tax
        (500, 65000),  # 500 + 125 + 25
        (510, 66240),  # 510 + 125 + 2 + 25.40
        (2000, 251000),  # 2000 + 125 + 300 + 85
        (2050, 256720),  # 2050 + 125 + 300 + 6 + 86.20
    ],
)
def test_the_landed_cost_about_the_edges_of_a_marginal_premium(bid: int, cents: int) -> None:
    assert landing_at(MARGINAL).cost(points(bid)).tolist() == [cents]


@pytest.mark.parametrize(
    ("bid", "cents"),
    [(15, 2000), (100, 13000), (110, 12100)],  # the minimum of 5; 30 % of 100; 10 % of 110
)
def test_the_landed_cost_about_the_edge_of_a_whole_lot_premium(bid: int, cents: int) -> None:
    assert landing_at(WHOLE_LOT).cost(points(bid)).tolist() == [cents]


def test_freight_duty_and_tax_are_each_charged_on_the_sum_before() -> None:
    imported = {"freight": 20, "duty_rate": "0.05", "tax_rate": "0.20"}

    cost = landing_at(MARGINAL, imported=imported).cost(points(100))

    assert cost.tolist() == [18900]  # (130 + 20) + 7.50 duty = 157.50, + 31.50 tax


def test_a_foreign_price_is_rounded_to_the_cent_once_it_is_in_euros() -> None:
    assert landing_at(MARGINAL, rate=3.0).cost(points(100)).tolist() == [4333]


@pytest.mark.parametrize(
    ("limit", "bid"),
    [
        (65000, 500),  # just enough for 500
        (64999, 490),  # a cent short of it
        (66240, 510 - 10),  # 510 is no bid: steps of 50 from 500 on
        (71440, 550),  # 550 + 125 + 10 + 27 = 712.00
        (251000, 2000),
        (250999, 1950),
        (650, 5),
        (649, 0),
    ],
)
def test_the_maximum_bid_around_the_edges_of_a_marginal_premium(limit: int, bid: int) -> None:
    assert landing_at(MARGINAL).greatest_bid(np.array([limit])).tolist() == [bid * 10_000]


@pytest.mark.parametrize(
    ("limit", "bid"),
    [(12100, 110), (12099, 90), (13000, 110), (13200, 120), (2000, 15), (1000, 5), (999, 0)],
)
def test_a_whole_lot_rate_that_falls_at_an_edge_makes_a_higher_bid_cheaper(limit: int, bid: int) -> None:
    assert landing_at(WHOLE_LOT).greatest_bid(np.array([limit])).tolist() == [bid * 10_000]


def test_without_increments_a_bid_is_a_whole_unit() -> None:
    assert landing_at(MARGINAL, steps=()).greatest_bid(np.array([13129])).tolist() == [1_000_000]


def test_a_venues_own_import_goes_before_its_countrys() -> None:
    market = Market.model_validate(
        {
            "base_currency": "EUR",
            "eras": [{"name": "first", "run": "original", "first_year": 1984}],
            "venues": [
                {"name": "Quay", "kind": "auction", "currency": "EUR", "country": "Holmland"},
                {"name": "Pier", "kind": "auction", "currency": "EUR", "country": "Holmland"},
            ],
            "imports": [{"country": "Holmland", "freight": 9}, {"venue": "Quay", "freight": 4}],
        }
    )

    freights = [market.import_from(market.venue(name)).freight for name in ("Quay", "Pier")]

    assert freights == [Decimal(4), Decimal(9)]


def test_a_venue_without_an_entry_costs_nothing_to_bring_home() -> None:
    assert landing_at(MARGINAL).imported == Import(venue="Quay")
