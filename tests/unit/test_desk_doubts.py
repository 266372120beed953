"""Doubts on the desk: each shown with both sides, settled by a button, the next one following, and taken back."""

import re
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest

from pipeline.answers.review.run import list_decisions
from pipeline.desk.doubt_list import list_doubts
from pipeline.ingest.flagged_prices import flag_prices
from pipeline.ingest.review import near_matches
from pipeline.ledger import open_ledger
from tests.desk_client import OpenDesk, open_desk
from tests.doubtful import write_doubtful_shop

LEDGER = Path("pairband.duckdb")


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[OpenDesk]:
    with open_desk(write_doubtful_shop(tmp_path)) as desk:
        yield desk


def _keys(kind: str = "") -> list[str]:
    with open_ledger(LEDGER, read_only=True) as ledger:
        return [one.key for one in list_doubts(ledger) if not kind or one.kind == kind]


def _decide(opened: OpenDesk, key: str, decision: str, kind: str = "", reason: str = "") -> str:
    said = {"at": key, "decision": decision, "kind": kind, "reason": reason}
    return str(opened.client.post("/doubts/decide", data=said).text)


def _shown(page: str) -> str:
    found = re.search(r'name="at" value="([^"]+)"', page)
    return found[1] if found else ""


def _flag_a_price(opened: OpenDesk) -> str:
    """Flag the price of a sale as a fit does, and return its key."""
    with open_ledger(LEDGER) as ledger:
        record_id = near_matches(ledger)["left_id"][0]
        flag_prices(
            ledger, pl.DataFrame({"record_id": [record_id], "flag": ["price looks ten times too high"]})
        )
    return str(record_id)


def test_each_kind_of_doubt_is_counted(opened: OpenDesk) -> None:
    page = opened.client.get("/doubts").text
    assert re.findall(r'<span class="what">(\d+)</span></a>', page) == ["4", "3", "1", "0"]


def test_two_sides_stand_beside_each_other_and_what_differs_is_marked(opened: OpenDesk) -> None:
    page = opened.client.get("/doubts?kind=same").text
    differ = re.findall(r'<tr class="differs"><th scope="row">([^<]+)</th>', page)
    assert "sold" in differ
    assert "silhouette" not in differ


@pytest.mark.parametrize("decision", ["same sale", "different sales", "same pair"])
def test_a_decision_settles_its_doubt_and_the_next_follows(opened: OpenDesk, decision: str) -> None:
    first, second, third = _keys("same")
    page = _decide(opened, first, decision, kind="same", reason="I saw both")
    assert _shown(page) == second
    assert _keys("same") == [second, third]
    kept = list_decisions(LEDGER).decisions[-1]
    assert (kept["kind"], kept["note"]) == (decision, "I saw both")


def test_two_that_are_one_pair_are_no_doubt_any_longer(opened: OpenDesk) -> None:
    first = _keys("same")[0]
    _decide(opened, first, "same pair")
    assert first not in _keys()


def test_a_doubt_that_is_put_off_comes_again_after_the_last(opened: OpenDesk) -> None:
    keys = _keys("same")
    page = opened.client.get(f"/doubts?kind=same&at={keys[-1]}").text
    assert f'href="/doubts?kind=same&amp;at={keys[0]}" data-key="n"' in page


def test_the_last_decision_is_taken_back_and_its_doubt_shown_again(opened: OpenDesk) -> None:
    before = _keys()
    page = _decide(opened, before[1], "different sales")
    last = re.search(r'name="decision" value="([^"]+)"><button class="quiet" data-key="u"', page)
    assert last is not None
    page = opened.client.post("/doubts/undo", data={"decision": last[1]}).text
    assert _shown(page) == before[1]
    assert _keys() == before


def test_an_era_in_conflict_is_settled_by_its_era(opened: OpenDesk) -> None:
    [key] = _keys("excluded")
    _decide(opened, key, "era:reissue")
    kept = list_decisions(LEDGER).decisions[-1]
    assert (kept["kind"], kept["value"]) == ("era", "reissue")
    assert _keys("excluded") == []


@pytest.mark.parametrize("decision", ["accept", "hold"])
def test_a_sale_that_is_let_in_or_kept_out_is_no_doubt_any_longer(opened: OpenDesk, decision: str) -> None:
    [key] = _keys("excluded")
    page = _decide(opened, key, decision, kind="excluded")
    assert "Nothing awaits your decision here" in page


@pytest.mark.parametrize("decision", ["accept", "hold", "a tenth"])
def test_a_suspicious_price_is_settled(opened: OpenDesk, decision: str) -> None:
    key = _flag_a_price(opened)
    assert _keys("price") == [key]
    _decide(opened, key, decision, kind="price")
    assert _keys("price") == []


def test_a_price_with_its_decimal_mark_misplaced_is_corrected_to_a_tenth(opened: OpenDesk) -> None:
    key = _flag_a_price(opened)
    _decide(opened, key, "a tenth", kind="price")
    kept = list_decisions(LEDGER).decisions[-1]
    assert (kept["kind"], kept["field"], float(str(kept["value"]))) == ("correct", "price_native", 10.0)


def test_what_is_no_decision_on_a_doubt_is_refused(opened: OpenDesk) -> None:
    said = {"at": _keys("same")[0], "decision": "accept"}
    assert opened.client.post("/doubts/decide", data=said).status_code == 400
    assert not list_decisions(LEDGER).decisions


def test_a_doubt_that_was_settled_before_changes_nothing(opened: OpenDesk) -> None:
    key = _keys("same")[0]
    _decide(opened, key, "different sales")
    page = _decide(opened, key, "same sale")
    assert "settled before" in page
    assert len(list_decisions(LEDGER).decisions) == 1


def test_a_page_of_near_matches_is_a_part_of_all_of_them(opened: OpenDesk) -> None:
    with open_ledger(LEDGER, read_only=True) as ledger:
        every = near_matches(ledger)
        page = near_matches(ledger, start=1, first=1)
    assert page.equals(every.slice(1, 1))
    assert every["matching"].to_list() == [3, 3, 3]
