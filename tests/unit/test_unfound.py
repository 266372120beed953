"""Phrases of the market file that can never be found, and grade words that are one word."""

import polars as pl
import pytest

from pipeline.config import Market, parse_market
from pipeline.errors import MarketFileError
from pipeline.ingest.titles import read_titles
from pipeline.ingest.unfound import phrase_remarks
from tests.unit.test_market_file import SMALLEST


def market_with(added: str) -> Market:
    """Return the smallest market with more in it."""
    return parse_market(SMALLEST + added, where="market.toml")


@pytest.mark.parametrize("phrase", ["w/ hangtags", "hangtags & card", "box + tags", "tags aren't cut"])
def test_a_phrase_with_a_shortened_word_is_found_as_it_is_written(phrase: str) -> None:
    market = market_with(f'[words]\ntags = {{ attached = ["{phrase}"] }}\n')

    assert read_titles(pl.Series([f"Gannet Hi {phrase}"]), market)["tags"].to_list() == ["attached"]


def test_a_market_file_whose_phrases_can_all_be_found_has_no_remark(market: Market) -> None:
    assert phrase_remarks(market) == ()


@pytest.mark.parametrize("phrase", ["original box, lid", "box (original)", "original - box"])
def test_a_phrase_that_titles_are_divided_at_is_named(phrase: str) -> None:
    [remark] = phrase_remarks(market_with(f'[words]\nbox = {{ original = ["{phrase}"] }}\n'))

    assert remark.startswith(f"words.box.original: the phrase {phrase!r} is never found")


def test_a_phrase_that_is_read_as_a_size_is_named() -> None:
    [remark] = phrase_remarks(market_with('[[defects]]\nname = "stretched"\nphrases = ["fits UK 9"]\n'))

    assert remark.startswith("defects: 'stretched': the phrase 'fits UK 9' is never found")


def test_grade_words_that_differ_by_a_sign_do_not_collide() -> None:
    assert (
        phrase_remarks(market_with('[words]\ngrades = { "LS" = 8, "LS+" = 9, "A/B" = 7, "A" = 9 }\n')) == ()
    )


def test_grade_words_that_differ_by_punctuation_are_named() -> None:
    [remark] = phrase_remarks(market_with('[words]\ngrades = { "V.G." = 8, "V G" = 7 }\n'))

    assert (
        remark == "words.grades: 'V.G.' (8) and 'V G' (7) are one word and different grades; neither is read"
    )


def test_grade_words_that_differ_by_case_only_are_refused() -> None:
    with pytest.raises(MarketFileError, match=r"words.grades.*'LS' and 'ls' different meanings"):
        market_with('[words]\ngrades = { "LS" = 8, "ls" = 7 }\n')


MAP = """
[maps.holm]
venue = "Holm Sound Auctions"
files = "holm_*.csv"
columns = { title = "Title", defects = "Faults" }
"""


def test_map_words_of_a_field_without_a_column_are_named() -> None:
    [remark] = phrase_remarks(market_with(MAP + '[maps.holm.words.box]\n"yes" = "original"\n'))

    assert remark == "maps.holm.words.box: the map reads no column as box, so its words are never used"


def test_a_map_word_that_a_list_is_divided_at_is_named() -> None:
    [remark] = phrase_remarks(market_with(MAP + '[maps.holm.words.defects]\n"a;b" = "yellowing"\n'))

    assert remark.startswith("maps.holm.words.defects: the word 'a;b' holds ';'")
