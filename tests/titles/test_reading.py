"""Titles are read as a person of the trade reads them."""

import sys

import pytest

from pipeline.config import Market
from tests.titles.scores import (
    Score,
    labelled_cells,
    labelled_titles,
    read_cell,
    score_titles,
    with_signed_grades,
)

HELD_OUT = ("held_out", "held_out_again", "held_out_last", "typical")
LEAST = 0.97
MENDED_BY = ("unseen", "unseen_later")
"""Titles by a third author, by which the rules were mended after their first sight."""

UNSEEN = ("unseen_last",)
"""Titles by a fourth author, by which no rule was written or mended."""

FIRST_SIGHT = {"independent": 0.931, "independent_again": 0.88}
"""The worst precision or recall of an attribute when titles by another hand were first scored: below LEAST."""


def table_of(heading: str, scores: list[Score]) -> str:
    """Return the scores as lines of text."""
    lines = [
        f"  {score.attribute:12} {score.labelled:4} labelled  precision {score.precision:.3f}"
        f"  recall {score.recall:.3f}"
        for score in scores
    ]
    return "\n".join(["", heading, *lines, ""])


@pytest.mark.parametrize(
    "names", [("written_with",), ("held_out",), ("typical",), HELD_OUT, MENDED_BY, UNSEEN], ids="+".join
)
def test_each_attribute_is_read_rightly(
    names: tuple[str, ...], market: Market, capsys: pytest.CaptureFixture[str]
) -> None:
    scores = score_titles(labelled_titles(*names), market)
    with capsys.disabled():
        sys.stdout.write(table_of(f"titles: {', '.join(names)}", scores))
    worst = min(scores, key=lambda score: min(score.precision, score.recall))
    assert min(worst.precision, worst.recall) >= LEAST, worst


@pytest.mark.parametrize(("name", "floor"), FIRST_SIGHT.items())
def test_titles_by_another_hand_are_read_no_worse_than_at_first_sight(
    name: str, floor: float, market: Market, capsys: pytest.CaptureFixture[str]
) -> None:
    scores = score_titles(labelled_titles(name), market)
    with capsys.disabled():
        sys.stdout.write(table_of(f"titles: {name} (since looked at; first sight {floor})", scores))
    worst = min(scores, key=lambda score: min(score.precision, score.recall))
    assert min(worst.precision, worst.recall) >= floor, worst


def test_signs_years_and_misspelt_names_are_read_rightly(
    market: Market, capsys: pytest.CaptureFixture[str]
) -> None:
    scores = score_titles(labelled_titles("signs_and_years"), with_signed_grades(market))
    with capsys.disabled():
        sys.stdout.write(table_of("titles: signs_and_years", scores))
    worst = min(scores, key=lambda score: min(score.precision, score.recall))
    assert min(worst.precision, worst.recall) >= LEAST, worst


@pytest.mark.parametrize(("field", "cell", "label"), labelled_cells())
def test_a_labelled_cell_is_read_rightly(field: str, cell: str, label: str, market: Market) -> None:
    assert read_cell(field, cell, with_signed_grades(market)) == label


def test_there_are_enough_titles_and_none_is_in_two_parts() -> None:
    titles = labelled_titles("written_with", *HELD_OUT, *FIRST_SIGHT, *MENDED_BY, *UNSEEN)["title"]
    assert len(titles) >= 300
    assert titles.n_unique() == len(titles)
