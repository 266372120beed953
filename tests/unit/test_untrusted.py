"""Untrusted words before they are shown."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.untrusted import UNSHOWN, show_sentences, show_words
from tests.appraisals import LONG


def test_a_sign_that_turns_the_reading_direction_is_taken_out() -> None:
    assert show_words("lot 7 \u202egnp.exe\u202c sold") == "lot 7 gnp.exe sold"


def test_markup_is_left_for_the_template_to_escape() -> None:
    assert show_words("</script><b>") == "</script><b>"


def test_ten_thousand_characters_are_cut_with_an_ellipsis() -> None:
    shown = show_words(LONG, 40)
    assert len(shown) <= 40
    assert shown.endswith("…")


def test_a_text_that_just_fits_is_not_cut() -> None:
    assert show_words("Gannet Hi", 9) == "Gannet Hi"


@pytest.mark.parametrize("empty", ["", " ", "\u202e", "\n\t"])
def test_an_empty_text_stays_empty(empty: str) -> None:
    assert show_words(empty) == ""


def test_a_sentence_of_our_own_is_never_cut() -> None:
    sentence = "Attributes that nobody stated are the usual cause. " * 9
    assert show_sentences(sentence) == sentence.strip()


def test_letters_of_other_scripts_stay() -> None:
    assert show_words("スニーカー  حذاء") == "スニーカー حذاء"


@given(st.text(max_size=400))
def test_what_is_shown_is_one_line_without_controls(text: str) -> None:
    shown = show_words(text, 60)
    assert len(shown) <= 60
    assert not UNSHOWN.search(shown)
    assert len(shown.splitlines()) <= 1
