"""What a page says of a pair."""

import pytest

from pipeline.market.pair import Pair
from reports.facts import pair_facts, pair_heading


@pytest.mark.parametrize(
    ("system", "label", "foot_mm", "told"),
    [
        ("EU", "43", 275, "EU 43, 275 mm foot"),
        ("UK", "UK 9", 271, "UK 9, 271 mm foot (valued as 270 mm)"),
        (None, "9½", None, "9½, not read, valued as unknown"),
        (None, None, 271, "271 mm foot (valued as 270 mm)"),
        (None, None, None, "not known"),
    ],
)
def test_the_size_is_shown_as_it_is_printed(
    system: str | None, label: str | None, foot_mm: int | None, told: str
) -> None:
    pair = Pair("Gannet Hi", size_system=system, size_label=label, foot_mm=foot_mm)
    assert dict(pair_facts(pair))["Size"] == told


def test_a_defect_whose_name_cannot_be_shown_is_not_passed_over() -> None:
    assert dict(pair_facts(Pair("Gannet Hi", defects=("\u202e",))))["Defects"] == "(unreadable)"


def test_a_pair_is_headed_by_its_silhouette_and_colourway() -> None:
    assert pair_heading(Pair("Gannet Hi", "Buoy Red", label="Stock 7")) == ("Gannet Hi Buoy Red", "Stock 7")
