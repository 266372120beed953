"""The tables of a consignment: what the owner reads in the terminal and the consignor on the sheet."""

from collections import Counter
from dataclasses import replace

from pipeline.answers.consignment.answer import Consignment
from pipeline.answers.consignment.tables import (
    consignment_sheet,
    consignments_sheet,
    explanations,
    prices_table,
    venues_table,
)
from pipeline.phrases.phrases import ENGLISH
from reports.consignment.page import consignment_page
from tests.upcoming import COMMON, demo_consignment


def test_every_price_to_set_is_a_row_with_its_venue() -> None:
    found = demo_consignment()

    assert prices_table(found).rows.height == sum(len(offer.suggestions) for offer in found.offers)


def test_how_a_price_was_reached_is_said_once_for_all_venues() -> None:
    lines = explanations(demo_consignment())

    assert max(Counter(lines).values()) == 1
    assert sum(line.startswith("Reserve") for line in lines) == 1


def test_a_price_reached_differently_at_each_venue_names_the_venue() -> None:
    found = demo_consignment()
    counter = next(offer for offer in found.offers if offer.curve)
    other = replace(
        counter, venue="Second Shop", suggestions=(replace(counter.suggestions[0], how="By hand."),)
    )
    lines = explanations(replace(found, offers=(*found.offers, other)))

    assert "Asking price at Second Shop: By hand." in lines


def test_the_owner_sees_what_the_house_keeps_at_every_venue() -> None:
    found = demo_consignment()

    assert venues_table(found).rows["commission"].to_list() == [
        float(offer.at_median.commission) for offer in found.offers
    ]


def test_the_answer_is_the_same_sentence_in_the_terminal_and_on_the_sheet() -> None:
    found = demo_consignment()

    assert consignment_sheet(found).sentences[0] in consignment_page(found, business="Tidewrack Pairs")


def test_without_a_venue_the_sheet_says_why() -> None:
    sheet = consignment_sheet(replace(demo_consignment(), offers=()))

    assert sheet.sentences == ("No venue of the market file has a currency with a known rate.",)
    assert sheet.figures == ()


def test_several_consignments_are_one_line_each() -> None:
    found = (demo_consignment(), demo_consignment(replace(COMMON, label="Stock 12")))
    sheet = consignments_sheet(found)

    assert sheet.title.startswith("2 pairs, ")
    assert sheet.table("pairs").rows["net"].to_list() == [one.offers[0].net for one in found]


def test_the_owner_is_told_what_speaks_against_a_venue() -> None:
    warnings = consignment_sheet(_doubted(demo_consignment())).warnings

    assert warnings[0].startswith(
        "Holm Sound Auctions: no sale there is in your records. It is not recommended"
    )


def test_what_speaks_against_several_venues_is_said_once() -> None:
    priced = demo_consignment()
    same = replace(
        priced, offers=tuple(replace(one, qualifies=False, doubts=("old records",)) for one in priced.offers)
    )
    [first, *others] = consignment_sheet(same).warnings

    assert first.startswith(f"{', '.join(one.venue for one in same.offers)}: old records. They are not")
    assert not any("old records" in warning for warning in others)


def test_the_consignors_sheet_shows_only_venues_that_qualify() -> None:
    assert "Holm Sound Auctions" not in consignment_page(
        _doubted(demo_consignment()), business="Tidewrack Pairs"
    )


def test_a_sheet_without_a_venue_that_qualifies_names_none_as_the_best() -> None:
    none = replace(
        demo_consignment(), offers=tuple(replace(one, qualifies=False) for one in demo_consignment().offers)
    )

    assert (consignment_sheet(none).figures, consignment_sheet(none).sentences) == (
        (),
        (ENGLISH.say("none_qualifies"),),
    )


def _doubted(found: Consignment) -> Consignment:
    """Return the consignment with the auctions not recommended and every price without a word of them."""
    offers = [
        replace(
            one,
            qualifies=one.venue != "Holm Sound Auctions",
            doubts=("no sale there is in your records",) * (one.venue == "Holm Sound Auctions"),
            suggestions=tuple(replace(line, how="By hand.") for line in one.suggestions),
        )
        for one in found.offers
    ]
    return replace(found, offers=tuple(sorted(offers, key=lambda one: not one.qualifies)))
