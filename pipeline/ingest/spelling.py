"""Typing errors: a word that is no word, one letter away from one of the trade's words ("origional box")."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Self

import polars as pl

SHORTEST = 5
"""Letters of a word that is recognised in spite of a typing error: shorter ones are too near to one another."""

LONG = 7
"""Letters of a word that is recognised with a wrong letter in it."""


@dataclass(frozen=True)
class Spelling:
    """The words of the trade, by what is left of each when one inner letter is left out; and all words known."""

    shortened: dict[str, frozenset[str]]
    known: frozenset[str]

    @classmethod
    def of(cls, words: Iterable[str], *, known: Collection[str]) -> Self:
        """Return the spelling of the words; the `known` ones are not misspellings of another."""
        shortened: defaultdict[str, set[str]] = defaultdict(set)
        for word in words:
            if len(word) >= SHORTEST and word.isalpha():
                for form in (word, *_shortened(word)):
                    shortened[form].add(word)
        return cls({form: frozenset(several) for form, several in shortened.items()}, frozenset(known))

    def meant_by(self, written: str) -> str | None:
        """Return the one word that is written with one typing error; null where there is none, or more than one.

        An error leaves out a letter, adds one, changes two neighbours over, or in a long word has a wrong one; the
        first and the last letter stand.
        """
        if written in self.known or len(written) < SHORTEST - 1 or not written.isalpha():
            return None
        near = self.shortened.get(written, frozenset()).union(
            *(self.shortened.get(form, frozenset()) for form in _shortened(written))
        )
        meant = {word for word in near if _is_misspelling(written, word)}
        return meant.pop() if len(meant) == 1 else None


def with_spelling_corrected(tokens: pl.Series, spelling: Spelling) -> pl.Series:
    """Return tokens (each between its own two spaces) with misspelt words as the words that are meant.

    A word that the English dictionary has ("resold" beside "resoled") stands as it is.
    """
    words = tokens.str.extract_all(r"[^ ]+").explode(empty_as_null=True).unique().drop_nulls().sort()
    near = ((word, spelling.meant_by(word)) for word in words)
    meant = {f" {word} ": f" {one} " for word, one in near if one is not None and not is_english(word)}
    return tokens.str.replace_many(list(meant), list(meant.values())) if meant else tokens


def _shortened(word: str) -> set[str]:
    return {word[:at] + word[at + 1 :] for at in range(1, len(word) - 1)}


def _is_misspelling(written: str, word: str) -> bool:
    if (written[0], written[-1]) != (word[0], word[-1]):
        return False
    if len(written) != len(word):
        longer, shorter = (written, word) if len(written) > len(word) else (word, written)
        return len(longer) == len(shorter) + 1 and shorter in _shortened(longer)
    wrong = [at for at, (one, other) in enumerate(zip(written, word, strict=True)) if one != other]
    if len(wrong) == 1:
        return len(word) >= LONG
    return (
        wrong == [wrong[0], wrong[0] + 1]
        and written[wrong[0] : wrong[1] + 1] == word[wrong[1]] + word[wrong[0]]
    )


def is_english(word: str) -> bool:
    """Return whether the English dictionary has a word."""
    return word in _dictionary()


@cache
def _dictionary() -> Collection[str]:
    from spellchecker import SpellChecker  # only when a title has a misspelling: it takes a while to load

    return SpellChecker(language="en").word_frequency.dictionary
