"""A misspelt word is read as the word that was meant, and a word of its own is not taken for a misspelling."""

import polars as pl
import pytest

from pipeline.config import Market
from pipeline.ingest.spelling import Spelling, with_spelling_corrected
from pipeline.ingest.titles import read_titles

SPELLING = Spelling.of(["resoled", "separation", "cleaned", "cleared", "vinyl"], known={"resoles"})


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("resled", "resoled"),
        ("ressoled", "resoled"),
        ("resoeld", "resoled"),
        ("seperation", "separation"),
        ("resole", None),
        ("rsled", None),
        ("vynil", None),
        ("vnyil", None),
        ("vinnyl", "vinyl"),
        ("vnyl", "vinyl"),
    ],
)
def test_a_misspelling_is_one_letter_and_never_the_first_or_last(written: str, meant: str | None) -> None:
    assert SPELLING.meant_by(written) == meant


def test_a_misspelling_of_two_words_is_neither() -> None:
    assert SPELLING.meant_by("cleaed") is None


def test_a_word_of_the_trade_is_no_misspelling_of_another() -> None:
    assert Spelling.of(["resoled"], known={"ressoled"}).meant_by("ressoled") is None


def test_an_english_word_stands_as_it_is() -> None:
    tokens = pl.Series([" resold ", " resolled "])
    assert with_spelling_corrected(tokens, SPELLING).to_list() == [" resold ", " resoled "]


def test_short_words_are_read_as_written() -> None:
    assert Spelling.of(["tags"], known=set()).meant_by("taggs") is None


@pytest.mark.parametrize(
    ("title", "treatments"),
    [("Ostrel Gannet Hi, resold in May", None), ("Ostrel Gannet Hi, resolled in May", ["sole swap"])],
)
def test_a_pair_that_was_resold_is_not_a_pair_that_was_resoled(
    title: str, treatments: list[str] | None, market: Market
) -> None:
    assert read_titles(pl.Series([title]), market)["treatments"].to_list() == [treatments]


@pytest.mark.parametrize(
    ("title", "tags"),
    [
        ("Gannet Hi, tags removed but kept", "loose"),
        ("Gannet Hi, hang tags loose in the box", "loose"),
        ("Gannet Hi, tags removed", "none"),
    ],
)
def test_tags_that_were_kept_are_loose(title: str, tags: str, market: Market) -> None:
    assert read_titles(pl.Series([title]), market)["tags"].to_list() == [tags]


@pytest.mark.parametrize("title", ["Gannet Hi, box lid yellowed", "Gannet Hi, og box is yellowed"])
def test_a_yellowed_box_is_no_defect_of_the_pair(title: str, market: Market) -> None:
    assert read_titles(pl.Series([title]), market)["defects"].to_list() == [None]
