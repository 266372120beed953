"""Text wrapped or cut to a width in cells: commands, paths, days, amounts and sizes stay in one piece."""

import re

from rich.cells import cell_len, chop_cells, set_cell_size

ELLIPSIS = "…"
_GLUE = "\ue000"
"""A character of private use, one cell wide, in the place of a space at which no line may end."""

_MONTH = r"(?:Jan|Feb|Mar|Apr|May|June?|July?|Aug|Sept?|Oct|Nov|Dec)[a-z]*"
_WHOLE = re.compile(
    "|".join(
        (
            r"`[^`]*`",
            rf"\b\d{{1,2}} {_MONTH} \d{{4}}\b",
            rf"\b{_MONTH} \d{{4}}\b",
            r"(?<=\d) – (?=\S)",
            r"(?<=%) – (?=\S)",
            r"(?<![^ (])[+−±×÷=] (?=\S)",
            r"(?<=\d) (?=(?:%|mm|cm|kg|g|points?)(?!\w))",
            r"\b(?:UK|EU|JP|US|US men|US women|grade|row|rank) (?=\d)",
            r"(?<=\d) (?=\d/\d)",
            r"\b\d+ in \d+\b",
        )
    )
)
"""What stays in one piece; a match that is only a sign keeps to what stands on either side of it."""

_BREAKS = re.compile(r"(?<=[-_/,;])(?=\w)")
"""Where a word that is too long for its column is broken rather than anywhere else."""


def wrap(text: str, width: int, *, whole_words: bool = False, indent: str = "") -> list[str]:
    """Return the lines of a text of one line; a word that is wider than the width is broken, unless `whole_words`.

    Lines after the first begin with `indent`.
    """
    lines: list[str] = []
    line = ""
    for word in _glued(text).split(" "):
        for piece in [word] if whole_words else _pieces(word, width):
            if not line:
                line = piece
            elif cell_len(line) + 1 + cell_len(piece) <= width:
                line += f" {piece}"
            else:
                lines.append(line)
                line = indent + piece
    return [one.replace(_GLUE, " ") for one in (*lines, line)]


def cut(text: str, width: int) -> str:
    """Return the first line of a text, its end replaced by an ellipsis where it is wider than the width."""
    line = text.split("\n")[0]
    return line if cell_len(line) <= width else set_cell_size(line, width - 1).rstrip() + ELLIPSIS


def longest_piece(text: str) -> int:
    """Return the width of the widest part of a text that stays in one piece."""
    return max((cell_len(word) for word in _glued(text).split()), default=0)


def _glued(text: str) -> str:
    return _WHOLE.sub(lambda found: found[0].replace(" ", _GLUE), text)


def _pieces(word: str, width: int) -> list[str]:
    """Return a word in pieces that fit: parted where it was glued, else behind a sign, else anywhere."""
    if cell_len(word) <= width:
        return [word]
    if _GLUE in word:
        return [piece for part in word.split(_GLUE) for piece in _pieces(part, width)]
    pieces = [""]
    for part in _BREAKS.split(word):
        if cell_len(pieces[-1] + part) <= width:
            pieces[-1] += part
        else:
            pieces += [part] if cell_len(part) <= width else chop_cells(part, width)
    return [piece for piece in pieces if piece]
