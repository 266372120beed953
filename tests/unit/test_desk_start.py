"""The first steps: what the owner answers becomes their market file, and nothing that they typed is lost."""

import re
from pathlib import Path

import pytest

from pipeline.answers.demo import run
from pipeline.config import load_market, parse_market
from pipeline.desk.first_market import EXAMPLE, currencies, first_market
from pipeline.errors import PairbandError
from tests.desk_client import OpenDesk

SAID = EXAMPLE | {
    "business.name": 'The "Tidewrack" Pairs',
    "business.town": "Skerrowhaven",
    "base_currency": "GBP",
    "sizes.usual": "UK",
    "venues.0.name": "Holm Sound Auctions",
    "venues.0.currency": "JPY",
    "venues.0.premium": "22,5 %",
    "venues.0.tax": "10",
    "silhouettes.0.name": "Gannet Hi",
    "silhouettes.0.maker": "Ostrel",
    "silhouettes.0.phrases": "gannet high, gannet  mid",
}


def test_what_is_answered_stands_in_the_market_file() -> None:
    market = parse_market(first_market(SAID).text, where="market.toml")

    assert (market.base_currency, market.business.heading) == ("GBP", 'The "Tidewrack" Pairs, Skerrowhaven')
    assert market.sizes.usual == "UK"
    assert [(era.name, era.first_year, era.last_year) for era in market.eras] == [
        ("first", 1984, 1986),
        ("second", 1987, 1991),
        ("reissue", 1994, None),
    ]
    [venue] = market.venues
    assert (venue.name, venue.currency) == ("Holm Sound Auctions", "JPY")
    assert (str(venue.fees[0].tiers[0].rate), str(venue.fees[0].tax_rate)) == ("0.225", "0.1")


def test_the_invented_names_of_the_starter_are_not_the_owners() -> None:
    market = parse_market(first_market(SAID).text, where="market.toml")

    assert [one.name for one in market.silhouettes] == ["Gannet Hi"]
    assert (market.colourways, market.maps, market.consigning.commission) == ((), {}, ())
    assert market.buying.sells_at is None


def test_an_owner_who_names_no_silhouette_has_none() -> None:
    said = {name: text for name, text in SAID.items() if not name.startswith("silhouettes")}

    assert parse_market(first_market(said).text, where="market.toml").silhouettes == ()


def test_the_notes_of_the_starter_stay() -> None:
    starter = (Path(__file__).parents[2] / "pipeline/starter.toml").read_text(encoding="utf-8")
    notes = re.findall(r"^# .*", starter, re.MULTILINE)
    written = first_market(SAID).text

    assert [note for note in notes if note not in written and note != '# usual = "UK"'] == []


def test_rows_that_are_left_empty_do_not_count() -> None:
    said = SAID | {f"eras.7.{column}": "" for column in ("name", "first_year", "last_year", "phrases")}

    assert len(parse_market(first_market(said | {"eras.7.run": "original"}).text, where="x").eras) == 3


@pytest.mark.parametrize(
    ("field", "typed", "fault"),
    [
        ("business.name", "", "needed"),
        ("base_currency", "", "needed"),
        ("base_currency", "pounds", "pattern"),
        ("venues.0.name", " ", "needed"),
        ("venues.0.premium", "a fifth", "percentage"),
        ("venues.0.premium", "100", "percentage"),
        ("venues.0.kind", "fair", "auction"),
        ("eras.0.first_year", "84", "year"),
        ("eras.0.last_year", "1983", "before"),
        ("eras.2.run", "copy", "original"),
        ("eras.2.first_year", "", "needed"),
        ("silhouettes.0.maker", "", "needed"),
    ],
)
def test_a_mistake_is_said_at_its_field(field: str, typed: str, fault: str) -> None:
    first = first_market(SAID | {field: typed})

    assert fault in first.faults[field]
    assert first.text == ""


def test_two_eras_of_one_name_are_a_mistake_of_the_whole() -> None:
    assert "twice" in first_market(SAID | {"eras.1.name": "First"}).faults[""]


def test_a_currency_that_is_no_money_today_is_not_offered() -> None:
    codes = [code for code, _ in currencies()]

    assert {"EUR", "JPY", "GBP"} <= set(codes)
    assert "DEM" not in codes


def test_the_questions_are_answered_and_the_first_export_comes_next(empty_desk: OpenDesk) -> None:
    answered = empty_desk.client.post("/start/own", data=SAID, follow_redirects=False)

    assert (answered.status_code, answered.headers["location"]) == (303, "/read")
    assert load_market(Path("market.toml")).business.town == "Skerrowhaven"
    assert empty_desk.desk.drafts.get("start") == {}


def test_what_was_typed_is_there_again_beside_the_mistake(empty_desk: OpenDesk) -> None:
    said = SAID | {"business.name": "9 mm & <b>Pairs</b>", "base_currency": ""}
    shown = empty_desk.client.post("/start/own", data=said)

    assert shown.status_code == 400
    assert 'value="9 mm &amp; &lt;b&gt;Pairs&lt;/b&gt;"' in shown.text
    assert "This is needed." in shown.text
    assert not Path("market.toml").exists()
    assert 'value="Holm Sound Auctions"' in empty_desk.client.get("/start/own").text


def test_an_era_is_added_and_removed_without_script(empty_desk: OpenDesk) -> None:
    more = empty_desk.client.post("/start/own", data=SAID | {"do": "add eras"})
    less = empty_desk.client.post("/start/own", data=SAID | {"do": "remove eras 1"})

    assert 'name="eras.3.name"' in more.text
    assert 'name="eras.2.name"' not in less.text
    assert 'value="reissue"' in less.text
    assert 'value="second"' not in less.text


def test_a_market_file_that_is_there_is_not_written_over(empty_desk: OpenDesk) -> None:
    Path("market.toml").write_text("mine", encoding="utf-8")

    answered = empty_desk.client.post("/start/own", data=SAID, follow_redirects=False)

    assert answered.headers["location"] == "/"
    assert Path("market.toml").read_text(encoding="utf-8") == "mine"


def test_the_demo_is_written_into_the_folder_of_an_open_desk(
    empty_desk: OpenDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_arguments: object, **_named: object) -> None:
        raise PairbandError("the exports are written")

    monkeypatch.setattr(run, "ingest_exports", stop)
    begun = empty_desk.client.post("/start/demo", follow_redirects=False)
    empty_desk.wait()

    assert "The exports are written" in empty_desk.client.get(begun.headers["location"]).text
    assert Path("exports/stock.csv").exists()


def test_a_demo_that_could_not_be_made_says_why(empty_desk: OpenDesk) -> None:
    Path("exports").write_text("a file in the way", encoding="utf-8")
    begun = empty_desk.client.post("/start/demo", follow_redirects=False)
    empty_desk.wait()

    assert "is not empty" in empty_desk.client.get(begun.headers["location"]).text
