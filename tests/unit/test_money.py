"""The price of an offer on every basis and in the base currency, worked by hand on the small market."""

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.config import Market
from pipeline.ingest.money import market_rates, price_offers
from pipeline.ingest.rates import RATE_COLUMNS

FRIDAY, SUNDAY, MONDAY = date(2024, 1, 5), date(2024, 1, 7), date(2024, 1, 8)
RATES = pl.DataFrame(
    [
        ("GBP", FRIDAY, 0.8),
        ("GBP", MONDAY, 0.5),
        ("JPY", date(2024, 1, 2), 150.0),
        ("JPY", FRIDAY, 160.0),
        ("USD", FRIDAY, 1.1),
    ],
    schema=RATE_COLUMNS,
    orient="row",
)
MONEY = pl.Decimal(18, 4)
SCHEMA = {
    "venue": pl.String, "currency": pl.String, "price_basis": pl.String, "status": pl.String,
    "sold_on": pl.Date, "closed_on": pl.Date, "offered_on": pl.Date, "price_native": pl.String,
    "ask_native": pl.String,
}  # fmt: skip
SOLD: dict[str, Any] = {
    "venue": "Holm Sound Auctions", "currency": "EUR", "price_basis": "hammer", "status": "sold",
    "sold_on": FRIDAY, "price_native": "500",
}  # fmt: skip
HOLM = SOLD
DOCK: dict[str, Any] = {**SOLD, "venue": "Lantern Dock", "currency": "GBP", "price_native": "80"}
UMIKAZE: dict[str, Any] = {**SOLD, "venue": "Umikaze Lots", "currency": "JPY", "price_native": "12345"}


def priced(market: Market, *offers: dict[str, Any]) -> pl.DataFrame:
    """Return what is known of the prices of these offers."""
    frame = pl.DataFrame([{name: offer.get(name) for name in SCHEMA} for offer in offers], schema=SCHEMA)
    return price_offers(frame.with_columns(pl.col("price_native", "ask_native").cast(MONEY)), market, RATES)


def amounts(market: Market, offer: dict[str, Any]) -> list[Decimal | None]:
    """Return all-in, net and the price paid in euros of one offer."""
    return list(priced(market, offer).select("all_in_native", "net_native", "price_paid").row(0))


def fault(market: Market, offer: dict[str, Any]) -> tuple[str | None, str | None, str | None]:
    """Return the fault of one offer: its field, value and reason."""
    field, value, reason = priced(market, offer).select("fault_field", "fault_value", "fault_reason").row(0)
    return field, value, reason


# Holm Sound takes 25 % and a fifth of that from the buyer up to 500, and 10 % from the seller above 300: 500 is
# 650 all-in and 450 net. Lantern Dock takes 9 % and .30 from the seller: 80 is 72.50 net; at .8 a euro, 100 euros.
# Umikaze Lots takes a tenth and a tenth of that from the buyer: 12345 + 1235 + 124 = 13704; at 160, 85.65 euros.
@pytest.mark.parametrize(
    ("offer", "expected"),
    [
        (HOLM, ["650", "450", "650"]),
        ({**HOLM, "price_basis": "net", "price_native": "450"}, ["650", "450", "650"]),
        ({**HOLM, "price_basis": "all-in", "price_native": "650"}, ["650", None, "650"]),
        (DOCK, ["80", "72.50", "100"]),
        ({**DOCK, "price_basis": "all-in"}, ["80", "72.50", "100"]),
        ({**DOCK, "price_basis": "net", "price_native": "72.50"}, ["80", "72.50", "100"]),
        (UMIKAZE, ["13704", None, "85.65"]),
        ({**UMIKAZE, "price_basis": "all-in", "price_native": "13704"}, ["13704", None, "85.65"]),
    ],
)
def test_a_price_is_known_on_every_basis(
    market: Market, offer: dict[str, Any], expected: list[str | None]
) -> None:
    assert amounts(market, offer) == [None if one is None else Decimal(one) for one in expected]


def test_prices_of_every_basis_beside_each_other_keep_their_order(market: Market) -> None:
    net = {**HOLM, "price_basis": "net", "price_native": "450"}
    found = priced(
        market, DOCK, net, {**HOLM, "price_native": "100"}, UMIKAZE, net | {"price_native": "255"}, HOLM
    )
    expected = ["80", "650", "130", "13704", "390", "650"]  # 300 leaves 255 and costs 300 + 75 + 15
    assert found["all_in_native"].to_list() == [Decimal(one) for one in expected]
    assert found["rate"].to_list() == [0.8, 1.0, 1.0, 160.0, 1.0, 1.0]


def test_the_columns_are_those_that_are_promised(market: Market) -> None:
    found = priced(market, HOLM)
    assert found.columns == [
        *("all_in_native", "net_native", "rate", "rate_on", "price_paid", "ask_price", "rate_is_old"),
        *("fault_field", "fault_value", "fault_reason"),
    ]
    assert found.schema["price_paid"] == found.schema["ask_price"] == MONEY
    assert found.schema["all_in_native"] == found.schema["net_native"] == MONEY


def test_no_offers_have_no_prices(market: Market) -> None:
    assert priced(market).height == 0


def test_a_price_in_euros_has_four_decimals(market: Market) -> None:
    early = {**UMIKAZE, "price_native": "1", "sold_on": date(2024, 1, 2)}
    assert amounts(market, early)[2] == Decimal("0.0067")  # 1 ÷ 150 = .00666…


def test_a_price_in_euros_is_rounded_once(market: Market) -> None:
    """.17 ÷ 1.1 = .154545…, which would be .15455 with five decimals and .1546 from there."""
    dollars = {**DOCK, "currency": "USD", "price_basis": "all-in", "price_native": "0.17"}
    assert amounts(market, dollars)[2] == Decimal("0.1545")


def test_what_was_not_sold_has_an_asking_price_only(market: Market) -> None:
    unsold = {**DOCK, "status": "unsold", "sold_on": None, "closed_on": FRIDAY, "ask_native": "100"}
    found = priced(market, unsold)
    assert found.select("all_in_native", "net_native", "price_paid").row(0) == (None, None, None)
    assert found["ask_price"].item() == Decimal(125)  # 100 ÷ .8
    assert found["fault_field"].item() is None


@pytest.mark.parametrize(
    ("days", "rate"),
    [
        ({"sold_on": FRIDAY, "closed_on": MONDAY, "offered_on": MONDAY}, 0.8),
        ({"sold_on": None, "closed_on": FRIDAY, "offered_on": MONDAY}, 0.8),
        ({"sold_on": None, "closed_on": None, "offered_on": MONDAY}, 0.5),
        ({"sold_on": None, "closed_on": None, "offered_on": None}, None),
    ],
)
def test_the_rate_is_that_of_the_sale_else_of_the_end_else_of_the_beginning(
    market: Market, days: dict[str, date | None], rate: float | None
) -> None:
    offer = {**DOCK, "status": "sold" if days["sold_on"] else "unsold", **days}
    assert priced(market, offer)["rate"].item() == rate


def test_a_sunday_takes_fridays_rate_and_says_so(market: Market) -> None:
    found = priced(market, {**DOCK, "sold_on": SUNDAY})
    assert found.select("rate", "rate_on", "rate_is_old").row(0) == (0.8, FRIDAY, False)


@pytest.mark.parametrize(("day", "old"), [(date(2024, 1, 12), False), (date(2024, 1, 13), True)])
def test_a_rate_of_more_than_seven_days_is_old(market: Market, day: date, old: bool) -> None:
    assert priced(market, {**UMIKAZE, "sold_on": day})["rate_is_old"].item() is old


def test_an_offer_without_a_day_has_no_old_rate(market: Market) -> None:
    found = priced(market, {**DOCK, "status": "open", "sold_on": None})
    assert found["rate_is_old"].item() is False


@pytest.mark.parametrize(
    ("offer", "expected"),
    [
        (HOLM, (None, None, None)),
        ({**HOLM, "price_native": None}, ("price_native", None, "no all-in price can be had: no price")),
        (
            {**HOLM, "price_native": "-5"},
            ("price_native", "-5.0000", "no all-in price can be had: a price below zero"),
        ),
        (
            {**UMIKAZE, "price_basis": "net"},
            (
                "price_native",
                "12345.0000",
                "no all-in price can be had: the venue has no seller's fee schedule",
            ),
        ),
        (
            {**DOCK, "currency": "AUD", "price_basis": "all-in"},
            ("currency", "AUD", "no exchange rate of AUD is known on 2024-01-05 or before"),
        ),
        (
            {**DOCK, "sold_on": date(2024, 1, 4)},
            ("currency", "GBP", "no exchange rate of GBP is known on 2024-01-04 or before"),
        ),
        ({**HOLM, "status": "unsold", "price_native": None}, (None, None, None)),
        ({**DOCK, "status": "unsold", "currency": "AUD"}, (None, None, None)),
    ],
)
def test_a_sale_without_a_price_in_euros_says_why(
    market: Market, offer: dict[str, Any], expected: tuple[str | None, ...]
) -> None:
    assert fault(market, offer) == expected


def test_the_rates_of_a_market_are_the_central_banks(market: Market) -> None:
    rates = market_rates(market)
    assert rates.filter(pl.col("currency") == "GBP", pl.col("day") == date(1999, 1, 4)).height == 1


def test_the_owners_own_rates_stand_in_the_place_of_the_central_banks(market: Market, tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text("currency,day,per_euro\nGBP,2024-01-05,0.5\n", encoding="utf-8")
    own = market.model_copy(update={"rates": market.rates.model_copy(update={"file": str(path)})})
    rates = market_rates(own)
    assert rates.filter(pl.col("currency") == "GBP").rows() == [("GBP", FRIDAY, 0.5)]
    assert rates.filter(pl.col("currency") == "JPY", pl.col("day") == date(1999, 1, 4)).height == 1
