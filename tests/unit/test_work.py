"""Which work makes sense on a pair, and which treatments combine."""

import pytest

from pipeline.answers.restoration.work import applicable, possible_work
from pipeline.market.pair import Pair
from sample_data import scenario


def names(pair: Pair) -> list[str]:
    return [treatment.name for treatment in applicable(pair, scenario.market())]


def sets(pair: Pair) -> set[tuple[str, ...]]:
    return {work.treatments for work in possible_work([pair], scenario.market())}


def worn(*defects: str, grade: float = 6.0, done: tuple[str, ...] = ()) -> Pair:
    return Pair(silhouette="Gannet Hi", grade=grade, defects=defects, treatments=done)


def test_a_pair_without_a_defect_is_only_cleaned() -> None:
    assert names(worn()) == ["deep clean"]


def test_a_defect_calls_for_what_cures_it() -> None:
    assert names(worn("yellowing")) == ["deep clean", "de-yellowing"]


def test_what_was_done_is_not_done_again() -> None:
    assert names(worn("yellowing", done=("deep clean",))) == ["de-yellowing"]


def test_a_pair_at_the_grade_limit_is_not_cleaned() -> None:
    assert names(worn(grade=9.0)) == []


def test_defects_that_nobody_looked_for_are_not_cured() -> None:
    assert names(Pair(silhouette="Gannet Hi", grade=6.0)) == ["deep clean"]


def test_a_pair_of_unknown_grade_is_not_weighed() -> None:
    assert possible_work([Pair(silhouette="Gannet Hi", defects=("yellowing",))], scenario.market()) == ()


def test_two_cures_of_one_defect_do_not_go_together() -> None:
    assert sets(worn("sole separation")) == {
        ("deep clean",),
        ("reglue",),
        ("sole swap",),
        ("deep clean", "reglue"),
        ("deep clean", "sole swap"),
    }


def test_two_cures_go_together_where_only_one_cures_the_one_defect_and_the_other_another() -> None:
    assert ("de-yellowing", "sole swap") in sets(worn("yellowing", "heel wear"))


def test_a_cure_whose_defects_another_cures_too_is_left_out() -> None:
    # a sole swap cures both; a reglue beside it cures nothing more
    assert ("reglue", "sole swap") not in sets(worn("sole separation", "heel wear"))


def test_hours_materials_and_cures_add_up() -> None:
    [work] = [
        work
        for work in possible_work([worn("yellowing")], scenario.market())
        if work.treatments == ("deep clean", "de-yellowing")
    ]

    assert (work.hours, work.materials, work.cures) == (4.5, 16.0, ("yellowing",))


@pytest.mark.parametrize("count", [0, 3])
def test_work_counts_to_the_place_of_its_pair(count: int) -> None:
    assert [work.pair for work in possible_work([worn()] * count, scenario.market())] == list(range(count))
