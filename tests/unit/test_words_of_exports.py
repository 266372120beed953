"""The words by which exports are read stand once in the list that they belong to."""

import pytest

from pipeline.ingest import amount_words, header_words, status_words
from pipeline.ingest.heading_meaning import written

LISTS = {
    f"{name}: {role}": words
    for module in (header_words, amount_words, status_words)
    for name, held in vars(module).items()
    if name.endswith(("_WORDS", "_STEMS"))
    for role, words in (held.items() if isinstance(held, dict) else [("all", held)])
}


@pytest.mark.parametrize("name", LISTS)
def test_no_word_stands_twice_in_a_list(name: str) -> None:
    words = [word.casefold() for word in LISTS[name]]
    assert sorted({word for word in words if words.count(word) > 1}) == []


@pytest.mark.parametrize("name", LISTS)
def test_every_word_is_one_that_a_heading_or_status_can_hold(name: str) -> None:
    assert [word for word in LISTS[name] if not written(word)] == []
