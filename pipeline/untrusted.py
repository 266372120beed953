"""Untrusted words made fit to show: titles, names and labels that came out of somebody's export.

Escaping is the template's work; this takes out what escaping leaves alone: control characters, and the
signs that turn the direction of the words around them (U+202A to U+202E, U+2066 to U+2069).
"""

import re

UNSHOWN = re.compile("[\u0000-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]+")
SPACES = re.compile(r"[^\S\u00a0\u202f]+")
"""Runs of spaces, without those that keep a figure and its unit on one line."""
LONGEST = 300
"""The most characters of one name or title that a page shows."""
LONGEST_SENTENCES = 4000
"""The most characters of sentences of our own that a page shows: more than any has, however many names they hold."""


def show_words(text: str, most: int = LONGEST) -> str:
    """Return a text on one line, without turning or control characters, of at most `most` characters.

    What is cut off is marked by an ellipsis; an empty text stays empty.
    """
    line = SPACES.sub(" ", UNSHOWN.sub(" ", text[: most * 4])).strip()
    return line if len(line) <= most and len(text) <= most * 4 else line[: most - 1].rstrip() + "…"


def show_sentences(text: str) -> str:
    """Return sentences of our own, which may hold names from an export, as `show_words` does, but never cut short."""
    return show_words(text, LONGEST_SENTENCES)
