"""What was done to a pair between two sales of it, as far as the records say."""

import polars as pl
import pytest

from pipeline.answers.restoration.resales import USED, reasons, side
from tests.restorations import resold, sale


def between(first: dict[str, object], second: dict[str, object]) -> tuple[list[str] | None, str]:
    row = resold((sale("a", **first), sale("b", **second))).row(0, named=True)
    return row["between"], row["reason"]


def test_treatments_of_only_the_later_sale_were_done_in_between() -> None:
    done = between({"treatments": ["reglue"]}, {"treatments": ["repaint", "reglue", "deep clean"]})

    assert done == (["deep clean", "repaint"], USED)


def test_a_pair_sold_as_never_treated_had_nothing_done_before_either() -> None:
    assert between({"treatments": None}, {"treatments": []}) == ([], USED)


def test_treatments_that_may_have_been_there_before_do_not_count() -> None:
    assert between({"treatments": None}, {"treatments": ["reglue"]})[1] == (
        "the earlier sale does not say what was restored"
    )


@pytest.mark.parametrize(
    ("first", "second", "reason"),
    [
        ({}, {"treatments": None}, "the later sale does not say what was restored"),
        ({"grade": None}, {}, "a grade is not known"),
        ({}, {"defects": None}, "a sale does not say what defects there were"),
    ],
)
def test_a_sale_that_does_not_say_what_matters_does_not_count(
    first: dict[str, object], second: dict[str, object], reason: str
) -> None:
    assert between(first, second)[1] == reason


def test_what_a_pair_keeps_is_known_from_either_sale() -> None:
    pairs = resold((sale("a", era=None, overlay="unknown"), sale("b", colourway=None)))

    assert side(pairs, "first").select("era", "overlay").row(0) == ("first", "leather")
    assert side(pairs, "second")["colourway"][0] == "Buoy Red"


def test_two_silhouettes_are_not_one_pair() -> None:
    assert resold((sale("a"), sale("b", silhouette="Plover Lo"))).height == 0


def test_no_resale_at_all_is_an_empty_frame() -> None:
    nothing = resold()

    assert nothing.height == 0
    assert reasons(nothing) == {}


def test_the_reasons_are_counted() -> None:
    silent = {"treatments": None}
    pairs = resold(*((sale(f"{n} a"), sale(f"{n} b", **(silent if n else {}))) for n in range(3)))

    assert reasons(pairs) == {"the later sale does not say what was restored": 2}
    assert pairs.filter(pl.col("reason") == USED).height == 1
