"""The first page of the desk: what there is, what awaits the owner, what to do next."""

from datetime import datetime
from pathlib import Path

import pytest

from pipeline.desk.calls import call
from pipeline.desk.doubt_list import Doubt
from pipeline.desk.home import done_words, steps_of, waiting_of
from pipeline.desk.state import Done, State
from tests.desk_client import OpenDesk

READ = State(records=5, files=2)


def next_of(state: State, doubts: int = 0) -> str:
    return next(step.button for step in steps_of(state, doubts) if not step.is_done)


def test_an_empty_folder_begins_with_the_first_steps(empty_desk: OpenDesk) -> None:
    assert empty_desk.client.get("/").url.path == "/start"


@pytest.mark.parametrize(
    ("state", "doubts", "button"),
    [
        (State(), 0, "Read an export"),
        (State(unread=("exports/a.csv",)), 0, "Read an export"),
        (State(records=5, unread=("exports/a.csv",)), 0, "Read an export"),
        (State(records=5), 2, "Settle the doubts"),
        (State(records=5, stale="There is no fit yet."), 0, "Fit the market"),
        (State(records=5, fitted_on=datetime(2026, 1, 1).date(), stale="Old."), 0, "Fit the market"),
        (State(records=5, fitted_on=datetime(2026, 1, 1).date()), 0, "Value a pair"),
    ],
)
def test_the_next_step_is_the_first_that_is_not_done(state: State, doubts: int, button: str) -> None:
    assert next_of(state, doubts) == button


def test_what_awaits_the_owner_is_said_by_kind() -> None:
    state = State(records=5, unread=("exports/a.csv",))
    doubts = [
        Doubt("same", ("a", "b"), "alike"),
        Doubt("price", ("c",), "ten times"),
        Doubt("price", ("d",), "ten times"),
    ]

    assert [one.words for one in waiting_of(state, doubts, 1)] == [
        "1 file to read: exports/a.csv",
        "Sales that may be one: 1",
        "Suspicious prices: 2",
        "1 row or cell that could not be read",
    ]
    assert waiting_of(READ, ()) == []


def test_what_was_done_is_said_in_words() -> None:
    at = datetime(2026, 3, 4, 12, 30)

    assert done_words(Done(at, "read", "holm.csv", 1200)) == (
        "4 Mar 2026, 12:30",
        "Read holm.csv: 1,200 rows",
    )
    assert done_words(Done(at, "decided", "correct", 3))[1] == "Corrected a record, 3 changes together"
    assert done_words(Done(at, "fitted", "f1", 0))[1] == "Fitted the market"


def test_exports_that_lie_there_are_to_be_read(shop_desk: OpenDesk) -> None:
    shown = shop_desk.client.get("/").text

    assert "2 files to read: exports/holm_2021.csv, exports/lantern_2021.csv" in shown
    assert '<a class="button" href="/read">Read an export</a>' in shown


def test_records_that_were_read_are_counted(read_desk: OpenDesk) -> None:
    shown = read_desk.client.get("/").text

    assert '<dt>Sale records</dt><dd><a href="/records">5</a></dd>' in shown
    assert "Read holm_2021.csv: 4 rows" in shown
    assert "to read" not in shown


def test_a_file_that_changed_since_it_was_read_is_to_be_read_again(read_desk: OpenDesk) -> None:
    with Path("exports/lantern_2021.csv").open("a", encoding="utf-8") as file:
        file.write("8,TP-2,Gannet Hi second run,2021-02-01,2021-03-19,120,100,sold,UK 9,8,original\n")

    assert "1 file to read: exports/lantern_2021.csv" in read_desk.client.get("/").text


def test_a_decision_stands_among_what_was_done_last(read_desk: OpenDesk) -> None:
    assert not call("correct", ["--", read_desk.record(), "grade=7"]).fault

    assert "Corrected a record" in read_desk.client.get("/").text


def test_a_broken_market_file_is_said_with_its_place_and_the_way_to_it(shop_desk: OpenDesk) -> None:
    Path("market.toml").write_text('base_currency = "EUR\n', encoding="utf-8")

    shown = shop_desk.client.get("/")

    assert shown.status_code == 200
    assert "line 1" in shown.text
    assert 'href="/market-file"' in shown.text


def test_a_market_file_with_a_wrong_key_names_it(shop_desk: OpenDesk) -> None:
    text = Path("market.toml").read_text(encoding="utf-8")
    Path("market.toml").write_text(text.replace("first_year = 1984", "first_year = 84"), encoding="utf-8")

    assert "eras.1.first_year" in shop_desk.client.get("/").text


def test_a_ledger_that_cannot_be_read_leads_to_its_care(read_desk: OpenDesk) -> None:
    Path("pairband.duckdb").write_bytes(b"no ledger")

    shown = read_desk.client.get("/")

    assert shown.status_code == 200
    assert "The ledger cannot be read" in shown.text


def test_a_file_name_is_no_part_of_the_page(shop_desk: OpenDesk) -> None:
    Path("exports/<img src=x>.csv").write_text("a,b\n1,2\n", encoding="utf-8")

    assert "<img" not in shop_desk.client.get("/").text


def test_a_page_that_lies_beside_the_ledger_is_no_export(read_desk: OpenDesk) -> None:
    Path("index.html").write_text("<table><tr><td>1</td></tr></table>", encoding="utf-8")
    Path("holm_2022.csv").write_bytes(Path("exports/holm_2021.csv").read_bytes() + b"\n")

    assert "1 file to read: holm_2022.csv" in read_desk.client.get("/").text
