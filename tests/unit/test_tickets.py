"""Price tickets: what a customer reads at the shelf, many to a sheet, and nothing that the house keeps to itself."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.answers.consignment.tickets import Price, Ticket, asks_of_file, make_tickets
from pipeline.config import Tickets
from pipeline.errors import MapError, PairError
from pipeline.shipped import shipped
from reports.consignment.tickets import tickets_page
from sample_data import scenario
from tests.appraisals import HOSTILE
from tests.upcoming import COMMON, demo_consignment

BUSINESS = "Tidewrack Pairs"
OWN = Price(Decimal("412"), "EUR")


def ticket(ask: Price | None = None, venue: str | None = None) -> Ticket:
    return make_tickets([demo_consignment()], [ask], scenario.market(), venue)[0]


def suggested(venue: str) -> Decimal:
    [offer] = [one for one in demo_consignment().offers if one.venue == venue]
    return next(line.amount for line in offer.suggestions if line.name == "ask")


def test_the_owners_own_price_stands_as_it_is() -> None:
    assert ticket(OWN).price == OWN


def test_a_suggested_price_is_the_shops_to_the_step_that_the_owner_says() -> None:
    price = ticket().price

    assert price is not None
    assert price.amount % 5 == 0
    assert abs(price.amount - suggested("Tidewrack Counter")) <= Decimal("2.5")


def test_the_price_at_a_named_venue_is_in_its_currency() -> None:
    price = ticket(venue="Lantern Dock").price

    assert price is not None
    assert price.currency == "GBP"


def test_a_venue_that_sells_by_auction_has_no_price_for_a_ticket() -> None:
    with pytest.raises(PairError, match="sells by auction: it has no asking price"):
        ticket(venue="Holm Sound Auctions")


def test_a_pair_without_a_price_has_room_to_write_one() -> None:
    auctions = tuple(offer for offer in demo_consignment().offers if offer.kind == "auction")
    made = make_tickets([replace(demo_consignment(), offers=auctions)], [None], scenario.market())

    assert made[0].price is None
    assert 'class="price blank"' in tickets_page(made, Tickets(), business=BUSINESS)


def test_a_ticket_says_maker_pair_era_size_grade_price_and_stock_number() -> None:
    page = tickets_page([ticket(OWN)], Tickets(), business=BUSINESS)

    said = [
        "Ostrel",
        "Gannet Hi",
        "Buoy Red",
        "First run, original of 1984–1986",
        "UK 9",
        "Very good, 8 of 10",
    ]
    assert [words for words in [*said, "€412", "Stock 0417"] if words not in page] == []


def test_a_ticket_shows_no_value_and_no_fit() -> None:
    page = tickets_page([ticket(OWN)], Tickets(), business=BUSINESS)

    assert page.count("€") == 1
    assert "fit" not in page.split("<body>")[1]


def test_tickets_stand_as_many_to_a_sheet_as_the_owner_says() -> None:
    page = tickets_page([ticket(OWN)] * 13, Tickets(columns=2, rows=3), business=BUSINESS)

    assert page.count('class="sheet"') == 3
    assert "13 tickets on 3 sheets of A4" in page


def test_no_pair_makes_no_ticket() -> None:
    assert "There is no pair in this file." in tickets_page([], Tickets(), business=BUSINESS)


def test_a_hostile_label_stays_text_on_a_ticket() -> None:
    made = make_tickets([demo_consignment(replace(COMMON, label=HOSTILE))], [OWN], scenario.market())

    assert "<img src=x" not in tickets_page(made, Tickets(), business=HOSTILE)


def test_the_low_estimate_of_a_lot_is_no_price_for_a_ticket() -> None:
    lots = shipped("sample_data") / "exports" / "upcoming_lots.csv"

    with pytest.raises(MapError, match="stock"):
        asks_of_file(lots, scenario.market(), row=None, as_of=date(2026, 10, 1))


def test_the_asking_prices_of_a_stock_list_are_read(tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("stock,model,ask\nA1,Gannet Hi,412.50\nA2,Gannet Hi,\n", encoding="utf-8")
    market = scenario.market()
    columns = {"stock_ref": "stock", "silhouette": "model", "ask_native": "ask"}
    listed = market.maps["stock"].model_copy(update={"columns": columns, "price_basis": None})
    changed = market.model_copy(update={"maps": {"stock": listed}})
    day = date(2026, 10, 1)

    assert asks_of_file(path, changed, row=None, as_of=day) == (Price(Decimal("412.5"), "EUR"), None)
    assert asks_of_file(path, changed, row=2, as_of=day) == (None,)
