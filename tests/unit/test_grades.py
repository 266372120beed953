"""Grades of condition by number and by trade word."""

import polars as pl
import pytest

from pipeline.ingest.grades import read_grades

WORDS = {"deadstock": 10.0, "worn twice": 9.0, "very good": 8.0, "good": 7.0, "Größe beat": 3.0}


def read_one(text: str) -> tuple[float | None, str | None]:
    """Return grade and reason of one cell."""
    grade, reason = read_grades(pl.Series([text]), WORDS).select("grade", "reason").row(0)
    return grade, reason


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("8.5", 8.5),
        ("8½", 8.5),
        ("8 1/2", 8.5),
        ("8,5/10", 8.5),
        ("9/10", 9.0),
        ("9 / 10", 9.0),
        ("10/10", 10.0),
        ("grade 7", 7.0),
        ("DEADSTOCK", 10.0),
        ("very good", 8.0),
        ("Very  good condition", 8.0),
        ("gróße beat", 3.0),
        ("good, 6.5", 6.5),
    ],
)
def test_a_grade_is_read(text: str, grade: float) -> None:
    assert read_one(text) == (grade, None)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("11", "off the scale"),
        ("0.5", "off the scale"),
        ("8.25", "not on the half-grade scale"),
        ("8-9", "more than one number"),
        ("85%", "not a grade out of ten"),
        ("near deadstock", "hedged or denied"),
        ("not good", "hedged or denied"),
        ("good or very good", "more than one grade"),
        ("goods", "no grade, and no word"),
    ],
)
def test_what_is_no_grade_says_why(text: str, reason: str) -> None:
    grade, why = read_one(text)
    assert grade is None
    assert reason in str(why)


@pytest.mark.parametrize("text", ["", "-", "n/a", "?"])
def test_an_empty_cell_is_no_fault(text: str) -> None:
    assert read_one(text) == (None, None)


def test_without_trade_words_numbers_are_still_read() -> None:
    result = read_grades(pl.Series(["good", "8"]), {})
    assert result["grade"].to_list() == [None, 8.0]


def test_no_cells_give_no_grades() -> None:
    assert read_grades(pl.Series([], dtype=pl.String), WORDS).schema["grade"] == pl.Float64


SIGNED = {"LS": 8.0, "LS+": 9.0, "GG": 7.0, "GG-": 6.5, "A": 9.0, "B": 7.0, "A/B": 8.0, "VG": 8.0}


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("LS", 8.0),
        ("LS+", 9.0),
        ("ls+, no box", 9.0),
        ("GG", 7.0),
        ("GG−", 6.5),
        ("A/B", 8.0),
        ("A / B", 8.0),
        ("A", 9.0),
        ("LS - light wear", 8.0),
    ],
)
def test_the_sign_of_a_grade_word_is_a_part_of_it(text: str, grade: float) -> None:
    assert read_grades(pl.Series([text]), SIGNED).row(0)[1:3] == (grade, None)


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("8+", 8.5),
        ("8 +", 8.5),
        ("9-", 8.5),
        ("9−", 8.5),
        ("8+/10", 8.5),
        ("8/10+", 8.5),
        ("7,5+", 8.0),
        ("10+", 10.0),
        ("1-", 1.0),
        ("8 - box", 8.0),
        ("8+box", 8.0),
    ],
)
def test_a_sign_after_a_number_is_half_a_step_within_the_scale(text: str, grade: float) -> None:
    assert read_grades(pl.Series([text]), {}).row(0)[1:3] == (grade, None)


@pytest.mark.parametrize(("text", "grade"), [("VG+", 8.5), ("vg–", 7.5), ("VG +", 8.5)])
def test_a_sign_that_the_market_file_does_not_have_is_half_a_step_from_the_word(
    text: str, grade: float
) -> None:
    assert read_grades(pl.Series([text]), SIGNED)["grade"].to_list() == [grade]


def test_a_word_read_by_a_half_step_is_named_once() -> None:
    read = read_grades(pl.Series(["VG+", "VG", "LS+", "8+"]), SIGNED)
    assert read["stepped"].to_list() == ["vg+", None, None, None]


def test_two_grade_words_that_are_compared_alike_mean_neither_grade() -> None:
    read = read_grades(pl.Series(["v.g."]), {"V.G.": 8.0, "V G": 7.0})
    assert read["grade"].to_list() == [None]


def test_two_strokes_of_different_words_name_more_than_one_grade() -> None:
    [reason] = read_grades(pl.Series(["LS/GG"]), SIGNED)["reason"].to_list()
    assert "more than one grade" in reason
