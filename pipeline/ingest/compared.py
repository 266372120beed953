"""Phrases and titles as they are compared: without case, accents and punctuation, abbreviations written out."""

from collections.abc import Iterable
from functools import lru_cache

import polars as pl

from pipeline.ingest.cells import each, folded, plain

GRADE_MARK = "\x01"
"""A control character that stands before a number of half grades, such as \x0117 for 8.5.

All marks are ASCII, since a pattern with borders of words takes many times as long in a text with other characters.
"""

THING_MARK = "\x02"
"""A control character that stands for a size or a stamp already taken out of the title."""


PLUS_MARK, MINUS_MARK = "\x03", "\x04"
"""Control characters that stand for the sign of a grade word ("LS+", "GG-"), as words of their own."""

_KEPT = rf"[^\p{{L}}\p{{N}}{GRADE_MARK}{THING_MARK}{PLUS_MARK}{MINUS_MARK}|,?]+"


def as_compared(text: pl.Expr) -> pl.Expr:
    """Return a phrase as a title's words are compared, separated by one space ("2nd" is "second")."""
    return compared_words(folded(plain(text.str.replace_all("’", "'", literal=True))))


def compared_words(text: pl.Expr) -> pl.Expr:
    """Return a folded phrase or clause as the words that are compared.

    Without punctuation but "|", "," and "?", each a word of its own; with "w/", "&" and "/" written out and the
    usual abbreviations as words.
    """
    return (
        text.str.replace_all(r"\bw/ ?o(?:ut)?\b", " without ")
        .str.replace_all(r"\bw/", " with ")
        .str.replace_all(r"\b(is|was|are|were|has|have|does|do)n't\b", "$1 not")
        .str.replace_all(r"'s\b", "")
        .str.replace_all(r"[&+]", " and ")
        .str.replace_all(r"[/、]", " , ")
        .str.replace_all(r"([,?])", " $1 ")
        .str.replace_all(_KEPT, " ")
        .str.replace_all(r"(?: ,)+ ", " , ")
        .str.replace_all(r"\?(?: +\?)+", "?")
        .pipe(written_out)
        .str.strip_chars()
        .str.replace(r"^[ ,]+([^ ,])", "$1")
        .str.replace(r"([^ ,])[ ,]+$", "$1")
    )


def with_signs_marked(text: pl.Expr, after: str = r"[\p{L}\p{N}]") -> pl.Expr:
    """Return a folded text with the sign right after what the pattern `after` matches as a word of its own.

    A sign before a letter or a digit ("good+box", "8-9") is none.
    """
    marked = text
    for sign, mark in (("[+]", PLUS_MARK), ("[-]", MINUS_MARK)):
        marked = marked.str.replace_all(rf"({after}){sign}($|[^\p{{L}}\p{{N}}+-])", f"$1 {mark} $2")
    return marked


def written_out(text: pl.Expr) -> pl.Expr:
    """Return a folded text with 1st, 2nd and 3rd and the usual abbreviations as words."""
    short = {"1st": "first", "2nd": "second", "3rd": "third", "repl": "replacement", "orig": "original"}
    for written, word in short.items():
        text = text.str.replace_all(rf"\b{written}\b", word)
    return text


def compared_list(phrases: Iterable[str]) -> list[str]:
    """Return phrases as they are compared."""
    return list(_compared(tuple(phrases)))


@lru_cache(maxsize=500)
def _compared(phrases: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(each(phrases, as_compared))
