"""Stock lists in the ledger: each is the stock of a day, nothing of it is guessed, and none is lost."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner
from pydantic import ValidationError

from pipeline.cli import app
from pipeline.config import ExportMap, Market
from pipeline.errors import ExportError
from pipeline.ingest.put_right import remove_file, undo
from pipeline.ingest.run import ingest_files
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from pipeline.ledger.copies import bring_back, make_copy
from tests.exports import AS_OF, LOADED_AT, ingest, write_lantern
from tests.kept import sales_of
from tests.stock_lists import COLUMNS, listings, pair, read_stock, stock_map, with_stock, write_stock

MAY, JUNE = date(2026, 5, 1), date(2026, 6, 1)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


@pytest.fixture
def stocked(market: Market) -> Market:
    return with_stock(market)


def _unread(ledger: Ledger) -> list[tuple[str, str, str]]:
    return ledger.connection.sql("SELECT field, value, reason FROM unread_cells ORDER BY field").fetchall()


def test_a_stock_list_goes_into_the_ledger_as_the_stock_of_its_day(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read = read_stock(ledger, stocked, tmp_path, pair("A1"), pair("A2"), on=MAY)

    assert (read.read, read.recorded, read.listed_on) == (2, 2, MAY)
    assert listings(ledger).select("listed_on", "stock_ref").rows() == [(MAY, "A1"), (MAY, "A2")]


def test_a_list_of_which_no_day_is_said_is_of_the_day_of_its_reading(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    assert read_stock(ledger, stocked, tmp_path, pair()).listed_on == AS_OF


def test_a_stock_list_is_no_sale(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair())

    assert sales_of(ledger).is_empty()


def test_reading_a_list_again_changes_nothing(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    again = read_stock(ledger, stocked, tmp_path, pair())

    assert (again.unchanged, again.listed_on) == (True, MAY)


def test_every_list_is_kept_and_not_only_the_last(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair(ask="200"), on=MAY)
    read_stock(ledger, stocked, tmp_path, pair(ask="180"), on=JUNE)

    assert listings(ledger).select("listed_on", "ask_native").rows() == [(MAY, 200), (JUNE, 180)]


def test_a_list_that_did_not_change_can_be_that_of_another_day_too(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    read_stock(ledger, stocked, tmp_path, pair(), on=JUNE)

    assert listings(ledger)["listed_on"].to_list() == [MAY, JUNE]


def test_a_day_that_is_said_takes_the_place_of_that_of_the_reading(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair())
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)

    assert listings(ledger)["listed_on"].to_list() == [MAY]


def test_a_list_that_was_corrected_on_its_day_counts_as_it_was_read_last(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    for ask in ("200", "180", "200"):
        read_stock(ledger, stocked, tmp_path, pair(ask=ask), on=MAY)

    assert listings(ledger).select("listed_on", "ask_native").rows() == [(MAY, 200)]


def test_an_older_list_read_later_says_which_one_is_there_now(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(ask="180"), on=JUNE)
    [note] = read_stock(ledger, stocked, tmp_path, pair(ask="200"), on=MAY).notes

    assert note.startswith("the stock list of 1 May 2026; what is there now is that of 1 Jun 2026")


def test_a_list_of_a_day_to_come_is_refused(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="cannot be of 2026-07-01: that day is still to come"):
        read_stock(ledger, stocked, tmp_path, pair(), on=date(2026, 7, 1))


def test_two_new_lists_of_one_map_and_day_are_refused_together(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    lists = [write_stock(tmp_path, pair(number), name=f"stock_{number}.csv") for number in ("A1", "A2")]
    with pytest.raises(ExportError, match=r"stock_A1.csv and .*stock_A2.csv are two stock lists"):
        ingest(ledger, stocked, lists)

    assert listings(ledger).is_empty()


def test_a_day_without_a_stock_list_is_refused(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    sales = write_lantern(tmp_path, "1,A1,Gannet Hi,2021-02-01,2021-03-01,100,100,sold,UK 9,7,")
    with pytest.raises(ExportError, match="none of these files is a stock list; nothing was read"):
        ingest_files(ledger, stocked, [sales], listed_on=MAY, as_of=AS_OF, loaded_at=LOADED_AT)


def test_a_list_and_sales_can_be_read_together(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    sales = write_lantern(tmp_path, "1,A1,Gannet Hi,2021-02-01,2021-03-01,100,100,sold,UK 9,7,")
    run = ingest(ledger, stocked, [write_stock(tmp_path, pair()), sales])

    assert [(file.listed_on, file.recorded) for file in run.files] == [(AS_OF, 1), (None, 1)]


def test_what_was_bought_cost_and_worked_on_is_kept_with_its_currency(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(cost="80", work="EUR 12.50", ask="£150", currency="USD"))

    row = listings(ledger).row(0, named=True)
    assert (row["bought_on"], row["price_native"], row["work_paid"], row["ask_native"]) == (
        date(2026, 1, 10),
        80,
        Decimal("12.5"),
        150,
    )
    assert (row["cost_currency"], row["work_currency"], row["ask_currency"]) == ("USD", "EUR", "GBP")


def test_a_cost_without_a_currency_has_none_and_is_said(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(currency=""))

    assert listings(ledger).select("price_native", "cost_currency").rows() == [(100, None)]
    assert [(field, value) for field, value, _ in _unread(ledger)] == [("price_native", "100")]


def test_a_map_that_reads_no_currencies_is_in_that_of_its_venue(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    columns = {field: heading for field, heading in COLUMNS.items() if field != "currency"}
    read_stock(ledger, with_stock(market, columns=columns), tmp_path, pair(currency=""))

    assert listings(ledger)["cost_currency"].to_list() == ["EUR"]


@pytest.mark.parametrize(
    ("ask", "reason"),
    [("0", "an ask of zero counts as no ask"), ("-50", "below zero"), ("soon", "not an amount")],
)
def test_an_ask_that_is_none_is_said_and_its_pair_is_kept(
    ledger: Ledger, stocked: Market, tmp_path: Path, ask: str, reason: str
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(ask=ask))

    assert listings(ledger)["ask_native"].to_list() == [None]
    [(field, value, why)] = _unread(ledger)
    assert (field, value) == ("ask_native", ask)
    assert reason in why


def test_a_cost_of_zero_counts_as_not_known(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair(cost="0"))

    assert listings(ledger)["price_native"].to_list() == [None]
    assert _unread(ledger) == [("price_native", "0", "a cost of zero counts as not known")]


def test_work_below_zero_is_said_and_does_not_count(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair(work="-5"))

    assert listings(ledger)["work_paid"].to_list() == [None]
    assert _unread(ledger) == [("work_paid", "-5", "below zero")]


def test_a_day_of_buying_that_cannot_be_read_leaves_the_pair_without_one(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(bought="last spring"))

    assert listings(ledger)["bought_on"].to_list() == [None]
    assert [(field, value) for field, value, _ in _unread(ledger)] == [("bought_on", "last spring")]


def test_a_place_that_is_no_venue_is_kept_by_its_name(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair("A1", where="lantern dock"), pair("A2", where="the window"))

    assert listings(ledger)["offered_at"].to_list() == ["Lantern Dock", "the window"]
    assert [(field, value) for field, value, _ in _unread(ledger)] == [("offered_at", "the window")]


def test_a_telephone_number_in_the_place_of_an_offer_is_masked(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(where="call +44 20 7946 0999"))

    assert "7946" not in str(listings(ledger)["offered_at"][0])
    assert "7946" not in str(_unread(ledger))


def test_a_map_from_before_says_by_the_day_of_offering_when_a_pair_came_in(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    columns = {("offered_on" if field == "bought_on" else field): name for field, name in COLUMNS.items()}
    read_stock(ledger, with_stock(market, columns=columns), tmp_path, pair())

    assert listings(ledger).select("bought_on", "offered_on").rows() == [(date(2026, 1, 10), None)]


def test_work_in_cents_is_read_as_the_other_amounts_are(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    read_stock(ledger, with_stock(market, amounts="minor"), tmp_path, pair(cost="10000", work="1250"))

    assert listings(ledger).select("price_native", "work_paid").rows() == [(100, Decimal("12.5"))]


def test_a_row_that_cannot_be_a_pair_is_kept_in_quarantine(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read = read_stock(ledger, stocked, tmp_path, pair("A1"), pair("A2", cost="eighty"))

    assert (read.read, read.recorded, read.quarantined) == (2, 1, 1)
    assert run_checks(ledger) == ()


def test_a_stock_number_that_stands_twice_is_recorded_twice(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    assert read_stock(ledger, stocked, tmp_path, pair("A1"), pair("A1", cost="50")).recorded == 2


def test_a_field_of_stock_in_a_map_of_sales_is_refused() -> None:
    with pytest.raises(ValidationError, match='`bought_on` is of a stock list: it needs `holds = "stock"`'):
        stock_map(holds="sales")


def test_a_file_that_a_corrected_map_says_is_stock_holds_no_sales_any_more(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    columns = {"stock_ref": "number", "closed_on": "bought", "price_native": "cost", "title": "title"}
    as_sales = stock_map(holds="sales", columns=columns)
    export = write_stock(tmp_path, pair())
    ingest(ledger, with_stock(market, {"list": as_sales}), [export])
    sold = sales_of(ledger).height
    ingest(ledger, with_stock(market, {"list": _with(as_sales, holds="stock")}), [export])

    assert (sold, sales_of(ledger).height, listings(ledger).height) == (1, 0, 1)


def test_a_file_that_a_corrected_map_says_is_sales_is_no_stock_any_more(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    columns = {"stock_ref": "number", "closed_on": "bought", "price_native": "cost", "title": "title"}
    as_stock = stock_map(columns=columns)
    export = write_stock(tmp_path, pair())
    ingest(ledger, with_stock(market, {"list": as_stock}), [export])
    ingest(ledger, with_stock(market, {"list": _with(as_stock, holds="sales")}), [export])

    assert (sales_of(ledger).height, listings(ledger).height) == (1, 0)
    assert run_checks(ledger) == ()


def test_a_list_read_under_another_name_of_its_map_stays_one_list(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_stock(tmp_path, pair())
    for name in ("stock", "shop"):
        ingest(ledger, with_stock(market, {name: stock_map()}), [export])

    assert listings(ledger)["map_name"].to_list() == ["shop"]


def test_a_list_under_a_corrected_map_keeps_its_day(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    read_stock(ledger, with_stock(market), tmp_path, pair(), on=MAY)
    read_stock(ledger, with_stock(market, size_system="UK"), tmp_path, pair())

    assert listings(ledger).select("listed_on", "size_system").rows() == [(MAY, "UK")]


def test_an_empty_list_is_a_list(ledger: Ledger, stocked: Market, tmp_path: Path) -> None:
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    assert read_stock(ledger, stocked, tmp_path, on=JUNE).recorded == 0


def test_a_list_that_was_removed_counts_no_more_and_comes_back(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    remove_file(ledger, stocked, "stock.csv", note="of another shop", ruled_at=LOADED_AT, as_of=AS_OF)
    without = listings(ledger).height
    undo(ledger, stocked, None, as_of=AS_OF)

    assert (without, listings(ledger).height) == (0, 1)


def test_a_removed_list_that_is_read_again_is_said_to_be_removed(
    ledger: Ledger, stocked: Market, tmp_path: Path
) -> None:
    read_stock(ledger, stocked, tmp_path, pair(), on=MAY)
    remove_file(ledger, stocked, "stock.csv", note="", ruled_at=LOADED_AT, as_of=AS_OF)
    [note] = read_stock(ledger, stocked, tmp_path, pair()).notes

    assert note.startswith("the stock list of 1 May 2026, which you removed: it does not count")


def test_the_command_removes_a_stock_list_by_its_name(stocked: Market, tmp_path: Path) -> None:
    path, market = tmp_path / "shop.duckdb", Path(__file__).parents[1] / "market.toml"
    with open_ledger(path, create=True) as shop:
        read_stock(shop, stocked, tmp_path, pair(), on=MAY)
    places = ["--ledger", str(path), "--market", str(market)]
    removed = CliRunner().invoke(app, ["remove", "--file", "stock.csv", "--yes", *places])

    assert "The stock list of 1 May 2026: 1 pair." in removed.output
    with open_ledger(path, read_only=True) as shop:
        assert listings(shop).is_empty()


def test_a_copy_of_the_ledger_brings_the_stock_lists_back(stocked: Market, tmp_path: Path) -> None:
    path = tmp_path / "kept.duckdb"
    with open_ledger(path, create=True) as kept:
        read_stock(kept, stocked, tmp_path, pair(), on=MAY)
        before = listings(kept)
    copy, findings = make_copy(path, tmp_path / "copy.duckdb", made_at=LOADED_AT)
    path.unlink()
    bring_back(copy.path, path, now=LOADED_AT)

    assert findings == ()
    with open_ledger(path, read_only=True) as again:
        assert listings(again).equals(before)


def _with(export_map: ExportMap, **keys: str) -> ExportMap:
    return ExportMap.model_validate(export_map.model_dump(exclude_unset=True) | keys)
