"""From the owner's words to a pair that can be valued."""

import pytest

from pipeline.config import Market
from pipeline.decisions.subject import Description, understand
from pipeline.errors import PairError


def test_words_become_a_pair_in_the_market_files_spelling(market: Market) -> None:
    described = Description(
        "ostrel gannet hi", colourway="BUOY", era="First", size="UK 9", grade="worn twice"
    )

    pair = understand(described, market)

    assert (pair.silhouette, pair.colourway, pair.era, pair.grade) == ("Gannet Hi", "Buoy Red", "first", 9.0)
    assert (pair.size_label, pair.size_system, pair.foot_mm) == ("UK 9", "UK", 271)


def test_what_is_left_out_is_not_known_and_none_is_an_answer(market: Market) -> None:
    pair = understand(Description("Plover Lo", defects="none"), market)

    assert pair.defects == ()
    assert pair.treatments is None


def test_several_defects_are_listed_with_commas(market: Market) -> None:
    pair = understand(Description("Plover Lo", defects="Yellowing, cracked overlay"), market)

    assert pair.defects == ("cracked overlay", "yellowing")


def test_a_silhouette_without_records_is_taken_as_it_is(market: Market) -> None:
    assert understand(Description("Great Auk"), market).silhouette == "Great Auk"


def test_a_slip_of_the_pen_in_a_silhouette_is_told(market: Market) -> None:
    with pytest.raises(PairError, match=r"'Ganet Hi'; did you mean 'Gannet Hi'\?\n.*--as-written"):
        understand(Description("Ganet Hi"), market)


def test_a_slip_of_the_pen_may_be_meant(market: Market) -> None:
    assert understand(Description("Ganet Hi"), market, as_written=True).silhouette == "Ganet Hi"


@pytest.mark.parametrize(
    ("described", "told"),
    [
        (Description("  "), "no silhouette"),
        (Description("Plover Lo", era="third"), "era 'third' is not one of those known"),
        (Description("Plover Lo", box="yes"), "box 'yes' .*\nknown: original, replacement, none, unknown"),
        (Description("Plover Lo", size="UK 90"), "size 'UK 90'"),
        (Description("Plover Lo", size="nine"), "size 'nine'.*\nname the system"),
        (Description("Plover Lo", size="9"), "size '9'.*\nname the system"),
        (Description("Plover Lo", grade="11"), "grade '11'.*\ngive 1 to 10 by half"),
        (Description("Plover Lo", grade="8.3"), "grade '8.3'"),
        (Description("Plover Lo", defects="yellow"), "defect 'yellow' .*\ndid you mean 'yellowing'"),
        (Description("Plover Lo", venue="Lantern"), "venue 'Lantern'"),
    ],
)
def test_what_cannot_be_is_told_with_the_way_out(market: Market, described: Description, told: str) -> None:
    with pytest.raises(PairError, match=f"(?s){told}"):
        understand(described, market)
