"""The consignment sheet: what a house hands over to be signed, and the settlement on it."""

import re
from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from pydantic import ValidationError

from pipeline.answers.consignment.price_split import divide_hammer
from pipeline.config import Business, FeeSchedule, Tier
from pipeline.errors import UnknownName
from pipeline.fees.words import schedule_words
from pipeline.ingest.sizes import foot_mm, size_number
from pipeline.market.shop_words import era_words, grade_words, in_shop_words
from reports.consignment.page import consignment_page
from sample_data import scenario
from tests.upcoming import COMMON, RATES, SOURCE, VALUED_ON, demo_consignment

BUSINESS = "Tidewrack Pairs"
OFFERS = [venue.name for venue in scenario.market().venues]


def sheet(venue: str | None = None, house: Business | None = None) -> str:
    return consignment_page(demo_consignment(), business=BUSINESS, venue=venue, house=house)


def schedule(*tiers: tuple[int | None, str], **others: str) -> FeeSchedule:
    steps = tuple(
        Tier(up_to=None if edge is None else Decimal(edge), rate=Decimal(rate)) for edge, rate in tiers
    )
    return FeeSchedule(party="seller", starts_on=date(2020, 1, 1), tiers=steps, **others)  # type: ignore[arg-type]


@pytest.mark.parametrize("venue", OFFERS)
def test_the_lines_of_a_settlement_and_what_is_left_make_up_the_price(venue: str) -> None:
    [offer] = [one for one in demo_consignment().offers if one.venue == venue]

    assert len(offer.settlements) == 2
    for one in offer.settlements:
        assert one.price == sum((line.amount for line in one.deductions), one.to_consignor)


@pytest.mark.parametrize("venue", OFFERS)
def test_a_settlement_leaves_what_the_split_of_its_price_leaves(venue: str) -> None:
    [offer] = [one for one in demo_consignment().offers if one.venue == venue]
    market = scenario.market()

    for one in offer.settlements:
        split = divide_hammer(
            one.price_native, market.venue(venue), market, rate=RATES[offer.currency], on=VALUED_ON
        )
        assert one.to_consignor == split.to_consignor


def test_no_line_of_a_settlement_adds_to_what_is_left() -> None:
    offers = demo_consignment().offers

    assert min(line.amount for offer in offers for one in offer.settlements for line in one.deductions) >= 0


@pytest.mark.parametrize(
    ("fees", "words"),
    [
        (schedule((None, "0.12")), "12\u00a0%"),
        (schedule((None, "0.125"), minimum="10"), "12.5\u00a0%; at least €10"),
        (schedule((400, "0.25"), (None, "0.18")), "25\u00a0% of the first €400, 18\u00a0% of the rest"),
        (
            schedule((300, "0.15"), (1000, "0.12"), (None, "0.1"), method="whole-lot"),
            "15\u00a0% of a price up to €300, 12\u00a0% of a price up to €1,000, 10\u00a0% of a higher one",
        ),
        (
            schedule((300, "0.15"), (1000, "0.12"), (None, "0.1")),
            "15\u00a0% of the first €300, 12\u00a0% from there to €1,000, 10\u00a0% of the rest",
        ),
    ],
)
def test_a_fee_schedule_is_put_in_words(fees: FeeSchedule, words: str) -> None:
    assert schedule_words(fees, "EUR") == words


def test_an_era_is_named_as_titles_name_it_with_its_run_and_years() -> None:
    eras = [era_words(era) for era in scenario.market().eras]

    assert eras[0] == "First run, original of 1984–1986"
    assert eras[-1] == "Late re-issue, 2008 on"


@pytest.mark.parametrize(
    ("grade", "words"),
    [
        (8, "Very good, 8 of 10"),
        (8.5, "Very good+, 8.5 of 10"),
        (9.5, "Worn once, 9.5 of 10"),
        (1, "1 of 10"),
    ],
)
def test_a_grade_has_the_first_trade_word_for_it(grade: float, words: str) -> None:
    assert grade_words(grade, scenario.market().words.grades) == words


def test_a_size_of_another_system_says_about_what_it_is_in_the_usual_one() -> None:
    market = scenario.market()
    usual = market.model_copy(update={"sizes": market.sizes.model_copy(update={"usual": "EU"})})

    assert in_shop_words(COMMON, market).size == "UK 9"
    assert in_shop_words(COMMON, usual).size == "UK 9, about EU 43"


@pytest.mark.parametrize("system", ["UK", "EU", "US men", "US women", "JP"])
def test_a_half_size_comes_back_from_its_foot_length(system: str) -> None:
    size = 27.0 if system == "JP" else 43.0 if system == "EU" else 9.5

    assert size_number(system, round(foot_mm(system, size))) == size  # type: ignore[arg-type]


def test_the_sheet_has_the_stock_number_and_the_condition_in_words() -> None:
    assert "Stock number <bdi>Stock 0417</bdi>" in sheet()
    assert "Very good, 8 of 10" in sheet()


def test_what_nobody_noted_of_the_pair_is_said_in_one_line() -> None:
    assert "<dt>Not noted</dt><dd><bdi>overlay, other parts</bdi></dd>" in sheet()


def test_the_sheet_shows_no_id_of_the_fit_and_no_program() -> None:
    found = replace(demo_consignment(), source=replace(SOURCE, fit_id="5eed5eed"))

    assert "5eed5eed" not in consignment_page(found, business=BUSINESS)
    assert "pairband" not in sheet().split("<body>")[1]


def test_a_sheet_that_is_sent_alone_has_no_dead_link() -> None:
    links = re.findall(r'<a [^>]*href="([^"]+)"', sheet())

    assert [link for link in links if f'id="{link.removeprefix("#")}"' not in sheet()] == []


def test_no_sentence_stands_on_the_sheet_twice() -> None:
    sentences = re.findall(r"<(?:li|p)[^>]*>(.{30,}?)</(?:li|p)>", sheet())

    assert max(Counter(sentences).values()) == 1


def test_both_parties_sign_with_place_and_date() -> None:
    assert (sheet().count("<dt>Signature</dt>"), sheet().count("<dt>Place, date</dt>")) == (2, 2)


def test_the_address_and_the_terms_are_the_owners() -> None:
    house = Business(name=BUSINESS, address=("7 Bollard Steps",), terms="We insure it.\n\nWe pay in 30 days.")

    assert "<bdi>7 Bollard Steps</bdi>" in sheet(house=house)
    assert sheet(house=house).count("<p><bdi>We ") == 2


def test_without_terms_there_is_room_to_write_them() -> None:
    assert 'class="ruled"' in sheet()


def test_the_sheet_is_of_the_venue_that_the_owner_chooses() -> None:
    chosen = sheet("umikaze lots").replace("\u00a0", " ")

    assert "Offered at <bdi>Umikaze Lots</bdi>, by auction" in chosen
    assert "170 JPY for 1 EUR, the rate of 1 Oct 2026" in chosen
    assert "Reserve: JP¥" in chosen


def test_a_venue_at_which_the_pair_is_not_offered_is_refused() -> None:
    with pytest.raises(UnknownName, match="venue of this consignment"):
        sheet("Elsewhere")


def test_terms_are_plain_text_in_paragraphs() -> None:
    with pytest.raises(ValidationError, match="without tabs or control characters"):
        Business(name=BUSINESS, terms="We\tpay.")


def test_hostile_terms_stay_text() -> None:
    assert "<script>x" not in sheet(house=Business(name=BUSINESS, terms="<script>x</script>"))
