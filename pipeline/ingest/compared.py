"""Phrases and titles as they are compared: without case, accents and punctuation, abbreviations written out."""

from collections.abc import Iterable

import polars as pl

from pipeline.ingest.cells import each, folded, plain

GRADE_MARK = "\ue000"
"""A private-use character that stands before a number of half grades, such as \ue00017 for 8.5."""

THING_MARK = "\ue001"
"""A private-use character that stands for a size or a stamp already taken out of the title."""


def as_compared(text: pl.Expr) -> pl.Expr:
    """Return a phrase without case, accents and punctuation, its words separated by one space ("2nd" is "second")."""
    kept = rf"[^\p{{L}}\p{{N}}{GRADE_MARK}{THING_MARK}|,?]+"
    return (
        folded(plain(text))
        .str.replace_all(r"['’]s\b", "")
        .str.replace_all(kept, " ")
        .str.strip_chars()
        .pipe(written_out)
    )


def written_out(text: pl.Expr) -> pl.Expr:
    """Return a folded text with 1st, 2nd and 3rd and the usual abbreviations as words."""
    short = {"1st": "first", "2nd": "second", "3rd": "third", "repl": "replacement", "orig": "original"}
    for written, word in short.items():
        text = text.str.replace_all(rf"\b{written}\b", word)
    return text


def compared_list(phrases: Iterable[str]) -> list[str]:
    """Return phrases as they are compared."""
    return each(phrases, as_compared)
