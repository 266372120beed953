"""Titles are read as a person of the trade reads them."""

import sys

import pytest

from pipeline.config import Market
from tests.titles.scores import Score, labelled_titles, score_titles

HELD_OUT = ("held_out", "held_out_again", "held_out_last", "typical")
LEAST = 0.97


def table_of(heading: str, scores: list[Score]) -> str:
    """Return the scores as lines of text."""
    lines = [
        f"  {score.attribute:12} {score.labelled:4} labelled  precision {score.precision:.3f}"
        f"  recall {score.recall:.3f}"
        for score in scores
    ]
    return "\n".join(["", heading, *lines, ""])


@pytest.mark.parametrize("names", [("written_with",), ("held_out",), ("typical",), HELD_OUT], ids="+".join)
def test_each_attribute_is_read_rightly(
    names: tuple[str, ...], market: Market, capsys: pytest.CaptureFixture[str]
) -> None:
    scores = score_titles(labelled_titles(*names), market)
    with capsys.disabled():
        sys.stdout.write(table_of(f"titles: {', '.join(names)}", scores))
    worst = min(scores, key=lambda score: min(score.precision, score.recall))
    assert min(worst.precision, worst.recall) >= LEAST, worst


def test_there_are_enough_titles_and_none_is_in_two_parts() -> None:
    titles = labelled_titles("written_with", *HELD_OUT)["title"]
    assert len(titles) >= 300
    assert titles.n_unique() == len(titles)
