"""Records are listed page by page, in the order of any column of the list."""

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any, get_args

import pytest

from pipeline.answers.records.answer import Record
from pipeline.answers.records.run import NEWEST, Order, OrderBy, Wanted, find_records
from pipeline.config import Market
from pipeline.ingest.put_right import correct
from pipeline.ledger import Ledger, open_ledger
from tests.exports import AS_OF, ingest, write_holm, write_lantern

NOW = datetime(2026, 6, 30, 12)
HOLM = (
    "1;Gannet Hi Buoy Red, first run;04.03.2021;600,00;zugeschlagen;43;",
    "2;Plover Lo, café crème;04.03.2021;80;zugeschlagen;42;",
    "3;Gannet Hi, first run;04.03.2021;;zurück;42;",
    "4;Unheard Of Mid;04.03.2021;90;zugeschlagen;42;",
    "5;Plover Lo;05.03.2022;80;zugeschlagen;;",
    "6;Gannet Hi, second run;06.03.2023;300;zugeschlagen;44;from a café",
    "8;Gannet Hi;;;zurück;41;",
)
LANTERN = "7,TP-1,Gannet Hi second run,2021-02-01,2021-03-09,120,100,sold,UK 9,8,original"
ORDERS = [Order(by, descending) for by in get_args(OrderBy) for descending in (False, True)]


@pytest.fixture(scope="module")
def ledger(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    """Return a ledger of eight records, of which days, prices and names are equal or not known."""
    folder = tmp_path_factory.mktemp("pages")
    with open_ledger(folder / "pairband.duckdb", create=True) as opened:
        ingest(opened, market, [write_holm(folder, *HOLM), write_lantern(folder, LANTERN)])
        yield opened


def _pages(ledger: Ledger, market: Market, order: Order, *, first: int) -> list[Record]:
    listed: list[Record] = []
    while True:
        page = find_records(ledger, market, Wanted(), first=first, start=len(listed), order=order)
        listed += page.listed
        if not page.has_more:
            return listed


@pytest.mark.parametrize("order", ORDERS, ids=str)
@pytest.mark.parametrize("first", [1, 3])
def test_pages_hold_each_record_once_also_where_records_are_equal(
    ledger: Ledger, market: Market, order: Order, first: int
) -> None:
    whole = find_records(ledger, market, Wanted(), first=None, order=order)
    assert _pages(ledger, market, order, first=first) == list(whole.listed)
    assert len({record.record_id for record in whole.listed}) == whole.matching == 8


@pytest.mark.parametrize("order", ORDERS, ids=str)
def test_records_come_in_order_and_those_that_are_not_known_last(
    ledger: Ledger, market: Market, order: Order
) -> None:
    eras = [era.name for era in sorted(market.eras, key=lambda era: era.first_year)]

    def told(record: Record) -> Any:
        named = " ".join(filter(None, (record.silhouette, record.colourway))) or record.title
        era = eras.index(record.era) if record.era in eras else None
        columns = {"pair": named, "price": record.price_paid, "era": era, "size": record.foot_mm}
        return columns[order.by] if order.by in columns else getattr(record, order.by)

    listed = find_records(ledger, market, Wanted(), first=None, order=order).listed
    found = [told(record) for record in listed]
    known = [value for value in found if value is not None]
    unknown = [None] * (len(found) - len(known))
    assert found == sorted(known, reverse=order.descending) + unknown


def test_the_newest_come_first_unless_another_order_is_asked_for(ledger: Ledger, market: Market) -> None:
    assert (
        find_records(ledger, market, Wanted(), first=None).listed
        == find_records(ledger, market, Wanted(), first=None, order=NEWEST).listed
    )


def test_equal_records_come_in_the_order_of_their_ids(ledger: Ledger, market: Market) -> None:
    same_day = find_records(ledger, market, Wanted(until=date(2021, 3, 4)), first=None).listed
    ids = [record.record_id for record in same_day]
    assert len(ids) == 4
    assert ids == sorted(ids)


def test_a_page_counts_all_that_match_and_says_whether_more_follow(ledger: Ledger, market: Market) -> None:
    gannets = Wanted(silhouette="Gannet Hi")
    pages = [find_records(ledger, market, gannets, first=2, start=start) for start in (0, 2, 4)]
    assert [(page.matching, len(page.listed), page.has_more) for page in pages] == [
        (5, 2, True),
        (5, 2, True),
        (5, 1, False),
    ]


def test_a_page_beyond_the_last_is_the_last(ledger: Ledger, market: Market) -> None:
    beyond = find_records(ledger, market, Wanted(), first=3, start=30)
    assert (beyond.start, len(beyond.listed), beyond.matching, beyond.has_more) == (6, 2, 8, False)


def test_a_page_of_nothing_is_empty(ledger: Ledger, market: Market) -> None:
    for start in (0, 30):
        nothing = find_records(ledger, market, Wanted(said="no such words"), first=3, start=start)
        assert (nothing.start, nothing.listed, nothing.matching, nothing.has_more) == (0, (), 0, False)


@pytest.mark.parametrize("said", ["CAFÉ", "cafe", "run from a caf", "Café Crème"])
def test_a_search_heeds_no_case_and_no_accent_in_titles_and_notes(
    ledger: Ledger, market: Market, said: str
) -> None:
    lots = {"CAFÉ": ["6", "2"], "cafe": ["6", "2"], "run from a caf": ["6"], "Café Crème": ["2"]}
    assert [
        record.lot_ref for record in find_records(ledger, market, Wanted(said=said), first=None).listed
    ] == (lots[said])


def test_a_corrected_title_is_found_by_its_new_words(market: Market, tmp_path: Path) -> None:
    with open_ledger(tmp_path / "pairband.duckdb", create=True) as own:
        ingest(own, market, [write_holm(tmp_path, *HOLM[:2])])
        [crème] = find_records(own, market, Wanted(said="creme"), first=None).listed
        correct(own, market, crème.record_id, {"title": "Plover Lo, Bür"}, note="", ruled_at=NOW, as_of=AS_OF)
        assert find_records(own, market, Wanted(said="creme"), first=None).listed == ()
        [found] = find_records(own, market, Wanted(said="lo, bur"), first=None).listed
    assert (found.title, found.is_corrected) == ("Plover Lo, Bür", True)


def test_a_sale_of_two_exports_is_found_by_the_words_of_its_title(market: Market, tmp_path: Path) -> None:
    with open_ledger(tmp_path / "pairband.duckdb", create=True) as own:
        one = write_holm(tmp_path, HOLM[1], name="holm_a.csv")
        other = write_holm(tmp_path, HOLM[1], HOLM[4], name="holm_b.csv")
        ingest(own, market, [one, other])
        found = find_records(own, market, Wanted(said="CRÈME"), first=None)
        of_file = find_records(own, market, Wanted(file_name="holm_a.csv"), first=None)
    assert [record.lot_ref for record in found.listed] == ["2"]
    assert of_file.listed == found.listed
