"""The desk's pages of the market file: what is listed, what is warned of, what is typed, and what a save entails."""

from collections.abc import Iterator
from pathlib import Path

import pytest

import pipeline.config
from pipeline.config import Market
from pipeline.desk.market_file.faults import faults_in
from pipeline.desk.market_file.groups import GROUPS
from pipeline.desk.market_file.labels import LABELS
from pipeline.desk.market_file.saving import read_market_text
from pipeline.desk.market_file.titles import line_on
from pipeline.toml_text import parse_toml
from tests.desk_client import OpenDesk, open_desk, write_shop

BUYING = "/market-file/table?at=buying"
TEXT = "/market-file/text"


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[OpenDesk]:
    """Return the open desk of a small dealer's folder, in which nothing was read yet."""
    write_shop(tmp_path)
    with open_desk(tmp_path) as found:
        yield found


def digest(opened: OpenDesk) -> str:
    return read_market_text(opened.desk.market_path).digest


def test_every_table_of_a_market_file_stands_in_one_group() -> None:
    listed = [key for group in GROUPS for key in group.tables]
    assert sorted(listed) == sorted(Market.model_fields)


@pytest.mark.parametrize("name", LABELS)
def test_a_table_in_a_dealers_words_says_all_its_keys(name: str) -> None:
    assert set(LABELS[name]) == set(getattr(pipeline.config, name).model_fields)


def test_a_fee_is_told_in_a_line() -> None:
    fee = tables_of_a_fee(
        'party = "buyer"\nstarts_on = 2020-01-01\nmethod = "marginal"\nminimum = 10\n'
        "tiers = [{ up_to = 500, rate = 0.25 }, { rate = 0.125 }]\ntax_rate = 0.2\n"
    )
    assert line_on(fee) == "25 % up to 500, 12.5 % beyond; tax 20 % on it; at least 10"


def tables_of_a_fee(text: str) -> dict[str, object]:
    return parse_toml(text, where="a fee")


def test_what_check_warns_of_leads_to_its_place(opened: OpenDesk) -> None:
    market = opened.desk.market_path
    market.write_text(market.read_text() + '\n[pictures]\nfolder = "gone"\n')
    page = opened.client.get("/market-file").text
    assert "there is no folder gone" in page
    assert 'href="/market-file/table?at=pictures">Go to pictures</a>' in page


def test_a_fault_of_a_value_is_told_with_its_line() -> None:
    text = 'base_currency = "EUR"\n\n[buying]\nmargin = 0.2\nconfidence = 3\n'
    assert [fault.line for fault in faults_in(text) if fault.path == ("buying", "confidence")] == [5]


def test_a_market_file_that_cannot_be_read_shows_its_text_at_the_line(opened: OpenDesk) -> None:
    market = opened.desk.market_path
    market.write_text("base_currency = <b>\n" + market.read_text())
    page = opened.client.get(BUYING).text
    assert 'data-line="1">Line 1</a>' in page
    assert "base_currency = &lt;b&gt;" in page


def test_what_was_typed_is_there_after_a_reload_until_it_is_let_go(opened: OpenDesk) -> None:
    sent = {"desk-digest": digest(opened), "margin": "0.31"}
    opened.client.post("/draft", json={"form": BUYING, "said": sent})
    page = opened.client.get(BUYING).text
    assert 'value="0.31"' in page
    assert "This is what you typed here and did not save." in page
    opened.client.post(BUYING, data=sent | {"desk-step": "discard"})
    assert 'value="0.31"' not in opened.client.get(BUYING).text


def test_a_draft_says_that_the_market_file_was_changed_since(opened: OpenDesk) -> None:
    opened.client.post(
        "/draft", json={"form": BUYING, "said": {"desk-digest": digest(opened), "margin": "0.31"}}
    )
    assert "changed since" not in opened.client.get(BUYING).text
    market = opened.desk.market_path
    market.write_text(market.read_text() + "\n# a remark\n")
    assert "The market file was changed since." in opened.client.get(BUYING).text


def test_a_change_that_was_looked_at_is_a_draft_until_it_is_saved(opened: OpenDesk) -> None:
    sent = {"desk-digest": digest(opened), "margin": "0.31"}
    opened.client.post(BUYING, data=sent | {"desk-step": "look"})
    assert "did not save" in opened.client.get(BUYING).text
    opened.client.post(BUYING, data=sent | {"desk-step": "save"})
    page = opened.client.get(BUYING).text
    assert 'value="0.31"' in page
    assert "did not save" not in page


def test_a_row_to_be_removed_is_still_ticked_as_its_form_comes_back(opened: OpenDesk) -> None:
    sent = {"desk-digest": digest(opened), "grades.0.name": "fine", "grades.0.value": "8"}
    page = opened.client.post(
        "/market-file/table?at=words", data=sent | {"grades.0.remove": "yes", "desk-step": "back"}
    )
    assert 'name="grades.0.remove" value="yes" checked' in page.text


def test_a_text_that_was_typed_and_is_no_market_file_is_kept(opened: OpenDesk) -> None:
    sent = {"desk-digest": digest(opened), "text": "base_currency = \nmine", "desk-step": "look"}
    assert opened.client.post(TEXT, data=sent).status_code == 400
    page = opened.client.get(TEXT).text
    assert "did not save" in page
    assert "mine</textarea>" in page


@pytest.mark.parametrize(
    ("page", "sent", "is_read_otherwise"),
    [(BUYING, {"margin": "0.31"}, False), ("/market-file/table?at=words", {"fix_typos": "no"}, True)],
)
def test_a_save_says_whether_exports_are_read_otherwise_from_now_on(
    opened: OpenDesk, page: str, sent: dict[str, str], is_read_otherwise: bool
) -> None:
    opened.desk.ledger_path.touch()
    opened.client.post(
        page, data=sent | {"desk-digest": digest(opened), "desk-step": "save"}, follow_redirects=False
    )
    said = [one.href for one in opened.desk.notices.take()]
    assert ("/read" in said) == is_read_otherwise
