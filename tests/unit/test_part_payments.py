"""A deposit is no price; a balance makes one with the deposit that it belongs to, and neither is a sale alone."""

from collections.abc import Iterator
from datetime import datetime
from itertools import permutations
from pathlib import Path

import polars as pl
import pytest

from pipeline.answers.records.answer import row_beside
from pipeline.config import Market
from pipeline.errors import CorrectionError
from pipeline.ingest.put_right import add, correct, undo
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ingest.status_meaning import status_of
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import AS_OF, ingest, write_lantern
from tests.kept import sales_of

OTHER = "8,TP-2,Plover Lo,2021-02-01,2021-03-05,90,80,sold,UK 8,7,none"
DEPOSIT = "7,TP-1,Gannet Hi first run,,2021-03-04,,50,deposit,UK 9,8,"
BALANCE = "7,TP-1,Gannet Hi first run,,2021-03-20,,190,balance,UK 9,8,"
WHOLE = "7,TP-1,Gannet Hi first run,,2021-03-20,,240,sold,UK 9,8,"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _prices(ledger: Ledger, market: Market, folder: Path, *rows: str) -> list[float]:
    """Read rows of one file; return the prices of the Gannets that were sold."""
    ingest(ledger, market, [write_lantern(folder, *rows)])
    assert run_checks(ledger) == ()
    gannets = sales_of(ledger).filter(pl.col("silhouette") == "Gannet Hi", status="sold")
    return [float(price) for price in gannets["price_native"]]


def test_a_deposit_alone_is_put_aside(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT) == []


def test_a_deposit_says_why_it_is_no_sale(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _prices(ledger, market, tmp_path, OTHER, DEPOSIT)
    assert "a deposit, not a price: no balance of its number and title" in quarantine_csv(ledger)


def test_a_deposit_and_its_balance_are_one_sale_at_their_sum(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT, BALANCE) == [240]


def test_a_sale_in_two_parts_took_place_on_the_day_of_its_balance(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _prices(ledger, market, tmp_path, OTHER, DEPOSIT, BALANCE)
    assert str(sales_of(ledger).filter(silhouette="Gannet Hi")["sold_on"].item()) == "2021-03-20"


def test_a_sale_in_two_parts_is_flagged(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _prices(ledger, market, tmp_path, OTHER, DEPOSIT, BALANCE)
    assert sales_of(ledger).filter(silhouette="Gannet Hi")["flags"].to_list() == [["deposit added"]]


def test_a_deposit_that_was_added_to_its_balance_is_counted_as_put_aside(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    [file] = ingest(ledger, market, [write_lantern(tmp_path, OTHER, DEPOSIT, BALANCE)]).files
    assert (file.read, file.recorded, file.duplicates, file.quarantined, file.put_aside) == (3, 2, 0, 0, 1)


def test_two_deposits_and_their_balance_are_one_sale(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    second = DEPOSIT.replace("2021-03-04", "2021-03-10").replace(",50,", ",30,")
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT, second, BALANCE) == [270]


def test_a_balance_without_its_deposit_is_put_aside(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    assert _prices(ledger, market, tmp_path, OTHER, BALANCE) == []


def test_a_deposit_and_a_later_row_with_the_whole_price_are_that_sale(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT, WHOLE) == [240]


def test_parts_of_a_price_that_another_row_has_whole_are_both_put_aside(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT, BALANCE, WHOLE) == [240]


@pytest.mark.parametrize(
    "balance",
    [
        BALANCE.replace("7,TP-1", ","),
        BALANCE.replace("7,TP-1", "9,TP-3"),
        BALANCE.replace("Gannet Hi first run", "Gannet Hi Buoy Red"),
        BALANCE.replace("2021-03-20", "2021-03-01"),
        BALANCE.replace(",190,", ",€190,"),
        BALANCE.replace(",,190,", ",190,190,"),
    ],
    ids=[
        "no number",
        "another number",
        "another title",
        "before its deposit",
        "another currency",
        "the whole asked",
    ],
)
def test_a_deposit_and_a_balance_that_do_not_fit_are_both_put_aside(
    ledger: Ledger, market: Market, tmp_path: Path, balance: str
) -> None:
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT, balance) == []


def test_a_deposit_that_two_balances_may_belong_to_is_added_to_neither(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    second = BALANCE.replace(",190,", ",180,")
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT, BALANCE, second) == []


def test_the_order_of_rows_changes_nothing_of_parts_of_a_price(market: Market, tmp_path: Path) -> None:
    told = []
    for place, rows in enumerate(permutations([DEPOSIT, BALANCE, OTHER])):
        with open_ledger(tmp_path / f"{place}.duckdb", create=True) as ledger:
            told.append(_prices(ledger, market, tmp_path, *rows))
    assert told == [[240]] * 6


@pytest.mark.parametrize(
    ("deposit", "balance"),
    [
        ("Deposit: {}", "Balance: {}"),
        ("Deposit for {}", "Balance for {}"),
        ("Anzahlung {}", "Restzahlung {}"),
        ("Deposit {}", "Final payment {}"),
        ("{} (acompte)", "{} (solde)"),
        ("Acconto - {}", "Saldo - {}"),
        ("{} - aanbetaling", "{} - restbetaling"),
        ("Zaliczka na {}", "Dopłata na {}"),
        ("Handpenning för {}", "Slutbetalning för {}"),
        ("Depositum: {}", "Restbeløb: {}"),
        ("Käsiraha {}", "Loppumaksu {}"),
        ("Záloha na {}", "Doplatek na {}"),
        ("【内金】{}", "【残金】{}"),
    ],
)
def test_parts_of_a_price_are_known_by_their_titles(
    ledger: Ledger, market: Market, tmp_path: Path, deposit: str, balance: str
) -> None:
    rows = [
        row.replace("Gannet Hi first run", title.format("Gannet Hi first run")).replace(word, "sold")
        for row, title, word in ((DEPOSIT, deposit, "deposit"), (BALANCE, balance, "balance"))
    ]
    assert _prices(ledger, market, tmp_path, OTHER, *rows) == [240]


@pytest.mark.parametrize(
    "title", ["Gannet Hi, no deposit asked", "Balance Street Gannet Hi", "Gannet Hi saldo"]
)
def test_a_word_in_a_title_that_is_not_set_off_says_nothing_of_its_price(
    ledger: Ledger, market: Market, tmp_path: Path, title: str
) -> None:
    row = WHOLE.replace("Gannet Hi first run", f'"{title}"')
    assert _prices(ledger, market, tmp_path, OTHER, row) == [240]


@pytest.mark.parametrize(
    ("text", "part"),
    [("Anzahlung", "deposit"), ("Deposit paid", "deposit"), ("acompte versé", "deposit"), ("残金", "balance"),
     ("Restzahlung", "balance"), ("Balance paid", "balance")],
)  # fmt: skip
def test_a_map_is_proposed_with_parts_of_a_price_as_such(text: str, part: str) -> None:
    assert status_of(text) == part


def test_a_sale_in_two_parts_can_be_corrected_and_keeps_its_sum(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _prices(ledger, market, tmp_path, DEPOSIT, BALANCE)
    record = sales_of(ledger)["record_id"].item()
    correct(ledger, market, record, {"grade": "9"}, note="", ruled_at=datetime(2026, 7, 1), as_of=AS_OF)
    assert sales_of(ledger).select("grade", "price_native", "flags").rows() == [(9, 240, ["deposit added"])]


def test_a_correction_of_a_sale_in_two_parts_is_taken_back_without_a_trace(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _prices(ledger, market, tmp_path, DEPOSIT, BALANCE)
    before = sales_of(ledger)
    record = before["record_id"].item()
    correct(
        ledger, market, record, {"price_native": "300"}, note="", ruled_at=datetime(2026, 7, 1), as_of=AS_OF
    )
    undo(ledger, market, None, as_of=AS_OF)
    assert sales_of(ledger).equals(before)


def test_a_refund_of_the_whole_price_undoes_a_sale_in_two_parts(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    refund = "7,TP-1,Gannet Hi first run,,2021-03-25,,-240,sold,UK 9,8,"
    assert _prices(ledger, market, tmp_path, OTHER, DEPOSIT, BALANCE, refund) == []


def test_a_record_says_that_its_price_is_the_sum_of_two_rows(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _prices(ledger, market, tmp_path, DEPOSIT, BALANCE)
    keys = ledger.read_with("staging/keys_of_records", sales_of(ledger).select("record_id"))
    [row] = ledger.read_with("staging/rows_of_keys", keys.select("row_key")).to_dicts()
    assert row_beside(row, market, {}).price_note.endswith(
        "its deposit, which the export has in a row of its own."
    )


@pytest.mark.parametrize("said", [{"status": "deposit"}, {"title": "Deposit: Gannet Hi"}])
def test_a_deposit_is_not_added_by_hand(ledger: Ledger, market: Market, said: dict[str, str]) -> None:
    words = {"venue": "Lantern Dock", "sold_on": "2021-03-09", "price_native": "50", **said}
    with pytest.raises(CorrectionError, match="a deposit, not a price") as refused:
        add(ledger, market, words, note="", ruled_at=datetime(2026, 7, 1), as_of=AS_OF)
    assert "with its whole price" in refused.value.remedy


def test_a_sale_is_not_corrected_to_be_a_deposit(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _prices(ledger, market, tmp_path, WHOLE)
    record = sales_of(ledger)["record_id"].item()
    with pytest.raises(CorrectionError, match="a part of a price is no sale"):
        correct(
            ledger, market, record, {"status": "deposit"}, note="", ruled_at=datetime(2026, 7, 1), as_of=AS_OF
        )
