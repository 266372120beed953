"""Records on the desk: found, shown beside their rows, corrected, removed, added, and all of it taken back."""

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.answers.corrections.run import correct_record
from pipeline.answers.records.answer import Record
from pipeline.answers.records.run import Wanted, find_records
from pipeline.answers.review.run import list_decisions
from pipeline.config import load_market
from pipeline.ledger import open_ledger
from tests.desk_client import OpenDesk, open_desk
from tests.doubtful import HOSTILE, NOW, write_doubtful_shop


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[OpenDesk]:
    with open_desk(write_doubtful_shop(tmp_path)) as desk:
        yield desk


def _records() -> list[Record]:
    with open_ledger(Path("pairband.duckdb"), read_only=True) as ledger:
        return list(find_records(ledger, load_market(Path("market.toml")), Wanted(), first=None).listed)


def _get(opened: OpenDesk, path: str) -> str:
    return str(opened.client.get(path).text)


def _titles(page: str) -> list[str]:
    return re.findall(r'<th scope="row"><a href="/records/([0-9a-f]{16})">', page)


def _last_decision() -> dict[str, object]:
    return list_decisions(Path("pairband.duckdb")).decisions[-1]


def test_the_list_shows_each_record_with_a_link_to_it(opened: OpenDesk) -> None:
    assert _titles(_get(opened, "/records")) == [one.record_id for one in _records()]


def test_a_filter_stands_in_the_address_and_in_its_field(opened: OpenDesk) -> None:
    page = _get(opened, "/records?size=UK+8&sort=price&way=up")
    assert "1–2 of 2 records" in page
    assert 'value="UK 8"' in page


def test_a_heading_puts_the_list_in_order_and_keeps_the_filter(opened: OpenDesk) -> None:
    page = _get(opened, "/records?size=UK+8&sort=price&way=up")
    rising = [one.record_id for one in sorted(_records(), key=lambda one: one.price_paid or 0)]
    assert _titles(page) == [one for one in rising if one in _titles(page)]
    assert "/records?size=UK+8&amp;sort=price&amp;way=down" in page


def test_a_filter_that_cannot_be_read_is_said_at_its_field_with_what_was_typed(opened: OpenDesk) -> None:
    answer = opened.client.get("/records?price=cheap")
    assert answer.status_code == 400
    assert 'value="cheap"' in answer.text
    assert "is no range" in answer.text


def test_a_silhouette_that_is_not_known_is_said_with_the_known_ones(opened: OpenDesk) -> None:
    answer = opened.client.get("/records?silhouette=Ganet")
    assert answer.status_code == 400
    assert "Gannet Hi" in answer.text


def test_all_that_is_found_comes_as_csv(opened: OpenDesk) -> None:
    answer = opened.client.get("/records/csv?size=UK+8")
    assert len(answer.text.strip().splitlines()) == 3
    assert "attachment" in answer.headers["content-disposition"]


@pytest.mark.parametrize("place", ["/records", "/records/{id}", "/doubts", "/decisions"])
def test_a_title_from_an_export_is_only_ever_text(opened: OpenDesk, place: str) -> None:
    hostile = next(one for one in _records() if one.title and "script" in one.title)
    _post(opened, hostile.record_id, "rule", decision="hold", reason=HOSTILE)
    page = _get(opened, place.format(id=hostile.record_id))
    assert "alert(1)" in page
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert "\u202e" not in page


def _post(opened: OpenDesk, record_id: str, what: str, **said: str) -> str:
    answer = opened.client.post(f"/records/{record_id}/{what}", data=said)
    return str(answer.text)


def test_a_record_is_shown_beside_the_cells_of_its_row(opened: OpenDesk) -> None:
    page = _get(opened, f"/records/{_records()[0].record_id}")
    assert "of holm_2021.csv" in page
    assert "Zuschlag: 90" in page


def test_a_record_that_is_none_is_not_here(opened: OpenDesk) -> None:
    assert opened.client.get("/records/0123456789abcdef").status_code == 404


def test_what_a_correction_would_change_is_shown_before_anything_is_kept(opened: OpenDesk) -> None:
    record = _records()[0]
    page = _post(opened, record.record_id, "correct", grade="6.5", reason="seen")
    assert "What would change" in page
    assert "6.5" in page
    assert _records()[0].grade == record.grade
    assert not list_decisions(Path("pairband.duckdb")).decisions


def test_a_correction_that_is_kept_is_that_of_the_command(opened: OpenDesk, tmp_path: Path) -> None:
    record = _records()[0]
    _post(opened, record.record_id, "keep", grade="6.5", reason="seen at the fair")
    by_desk, decision = _records(), _last_decision()
    _post(opened, record.record_id, "undo", decision=str(decision["decision_id"]))
    correct_record(
        Path("pairband.duckdb"),
        Path("market.toml"),
        record.record_id,
        ["grade=6.5"],
        reason="seen at the fair",
        decided_at=NOW,
    )
    assert _records() == by_desk
    assert decision["note"] == "seen at the fair"


def test_a_field_that_is_emptied_is_not_known(opened: OpenDesk) -> None:
    record = _records()[1]
    _post(opened, record.record_id, "keep", grade="")
    assert next(one for one in _records() if one.record_id == record.record_id).grade is None


def test_a_correction_that_cannot_be_read_is_said_at_its_field_with_what_was_typed(opened: OpenDesk) -> None:
    record = _records()[0]
    answer = opened.client.post(
        f"/records/{record.record_id}/correct", data={"grade": "eleven", "reason": "why"}
    )
    assert answer.status_code == 400
    wrong = answer.text.split('<div class="field wrong">')[1].split("</div>")[0]
    assert 'name="grade" value="eleven"' in wrong
    assert "nothing was changed" in wrong
    assert 'value="why"' in answer.text


def test_a_correction_that_changes_nothing_is_said(opened: OpenDesk) -> None:
    record = _records()[1]
    page = _post(opened, record.record_id, "correct", grade=f"{record.grade:g}")
    assert "every field is as it was" in page


def test_what_is_typed_comes_back_after_a_reload(opened: OpenDesk) -> None:
    record_id = _records()[1].record_id
    opened.client.post("/draft", json={"form": f"records/{record_id}", "said": {"grade": "7.5"}})
    assert 'name="grade" value="7.5"' in _get(opened, f"/records/{record_id}")
    opened.client.post(f"/records/{record_id}/forget")
    assert 'name="grade" value="8"' in _get(opened, f"/records/{record_id}")


def test_a_removed_record_no_longer_counts_and_comes_back(opened: OpenDesk) -> None:
    before = _records()
    page = _post(opened, before[0].record_id, "remove", reason="a replica")
    assert "Removed" in html.unescape(page)
    assert len(_records()) == len(before) - 1
    opened.client.post("/decisions/undo", data={"decision": str(_last_decision()["decision_id"])})
    assert _records() == before


def test_the_era_that_is_ruled_is_that_of_the_record(opened: OpenDesk) -> None:
    record = next(one for one in _records() if one.use == "excluded pending review")
    _post(opened, record.record_id, "rule", decision="era", era="reissue")
    [now] = [one for one in _records() if one.record_id == record.record_id]
    assert (now.era, now.use) == ("reissue", "in the fit")


def test_a_sale_is_added_by_hand(opened: OpenDesk) -> None:
    said = {
        "venue": "Lantern Dock",
        "sold_on": "2024-05-03",
        "price_native": "240",
        "silhouette": "Gannet Hi",
    }
    answer = opened.client.post(
        "/records/add", data=said | {"size_label": "UK 9", "reason": "at the counter"}
    )
    added = _records()[0]
    assert answer.url.path == f"/records/{added.record_id}"
    assert (str(added.day), added.silhouette, added.size_label) == ("2024-05-03", "Gannet Hi", "UK 9")


def test_a_sale_without_its_venue_is_not_added_and_what_was_typed_stays(opened: OpenDesk) -> None:
    before = _records()
    answer = opened.client.post("/records/add", data={"price_native": "240", "title": HOSTILE})
    assert answer.status_code == 400
    assert "needs its venue" in answer.text.split('<div class="field wrong">')[1].split("</div>")[0]
    assert 'value="240"' in answer.text
    assert "<img src=x" not in answer.text
    assert _records() == before


def test_decisions_that_were_written_to_a_file_come_back_from_it(opened: OpenDesk) -> None:
    record = _records()[0]
    _post(opened, record.record_id, "keep", grade="6.5")
    content = opened.client.get("/decisions/csv").content
    opened.client.post("/decisions/undo", data={"decision": str(_last_decision()["decision_id"])})
    answer = opened.client.post("/decisions/take", files={"file": ("mine.csv", content, "text/csv")})
    assert "1 decision brought in" in answer.text.replace("\u00a0", " ")
    assert _records()[0].grade == 6.5


def test_a_file_that_holds_no_decisions_is_refused_in_words(opened: OpenDesk) -> None:
    answer = opened.client.post("/decisions/take", files={"file": ("mine.csv", b"a,b\n1,2\n", "text/csv")})
    assert answer.status_code == 400
    assert "decisions" in answer.text
