"""Slips of the pen: a word that is no word, one letter away from one of the trade's words ("origional box")."""

from collections.abc import Collection, Iterable, Mapping
from functools import cache
from string import ascii_lowercase

import polars as pl

SHORTEST = 5
"""Letters of a word that is recognised in spite of a slip: shorter ones are too near to one another."""


def slips_of(words: Iterable[str], *, known: Collection[str]) -> dict[str, str]:
    """Return each way to write a word with one slip → the word.

    A slip leaves out a letter, adds one, or changes two neighbours over; the first and the last letter stand.
    A spelling that is one of the `known` words, or a slip of two words, is left out.
    """
    written: dict[str, str | None] = {}
    for word in sorted(set(words)):
        if len(word) >= SHORTEST and word.isalpha():
            for slip in _spellings(word):
                written[slip] = word if slip not in written else None
    return {slip: word for slip, word in written.items() if word is not None and slip not in known}


def _spellings(word: str) -> set[str]:
    inner = range(1, len(word) - 1)
    left_out = {word[:at] + word[at + 1 :] for at in inner}
    changed_over = {word[:at] + word[at + 1] + word[at] + word[at + 2 :] for at in inner[:-1]}
    added = {
        word[:at] + letter + word[at:]
        for at in range(1, len(word))
        for letter in {*ascii_lowercase, word[at]}
    }
    return (left_out | changed_over | added) - {word}


def with_slips_mended(tokens: pl.Series, slips: Mapping[str, str]) -> pl.Series:
    """Return tokens (each between its own two spaces) with the words of `slips` as they are meant.

    A word that the English dictionary has ("resold" beside "resoled") stands as it is.
    """
    words = tokens.str.extract_all(r"[^ ]+").explode(empty_as_null=True).unique().drop_nulls()
    near = words.filter(words.is_in(list(slips))).sort().to_list()
    meant = {f" {word} ": f" {slips[word]} " for word in near if word not in _dictionary()}
    return tokens.str.replace_many(list(meant), list(meant.values())) if meant else tokens


@cache
def _dictionary() -> Collection[str]:
    from spellchecker import SpellChecker  # only when a title has a slip: it takes a while to load

    return SpellChecker(language="en").word_frequency.dictionary
