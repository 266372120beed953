"""What a change does to the lines of a file, for showing before it is saved."""

from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Literal

Kind = Literal["same", "added", "removed"]
AROUND = 2
"""Lines that are shown above and below those that change."""


@dataclass(frozen=True)
class Line:
    """A line with its number in the text that it stands in: the new one, but for a line that goes."""

    kind: Kind
    number: int
    text: str


def difference(before: str, after: str) -> tuple[tuple[Line, ...], ...]:
    """Return the places at which two texts differ, each with its lines and AROUND lines above and below."""
    old, new = before.splitlines(), after.splitlines()
    places = []
    head = _alike_at_start(old, new)
    tail = _alike_at_start(old[head:][::-1], new[head:][::-1])
    head, tail = max(0, head - AROUND), max(0, tail - AROUND)
    matcher = SequenceMatcher(None, old[head : len(old) - tail], new[head : len(new) - tail])
    for steps in matcher.get_grouped_opcodes(AROUND):
        lines: list[Line] = []
        for kind, first, last, start, end in steps:
            if kind == "equal":
                lines += _lines("same", new, head + start, head + end)
            else:
                lines += _lines("removed", old, head + first, head + last)
                lines += _lines("added", new, head + start, head + end)
        places.append(tuple(lines))
    return tuple(places)


def _alike_at_start(one: list[str], other: list[str]) -> int:
    """Return how many lines two texts have in common before the first that differs."""
    pairs = enumerate(zip(one, other, strict=False))
    return next((number for number, (a, b) in pairs if a != b), min(len(one), len(other)))


def _lines(kind: Kind, text: list[str], first: int, last: int) -> list[Line]:
    return [Line(kind, number + 1, text[number]) for number in range(first, last)]


def with_endings_of(before: str, posted: str) -> str:
    """Return a text that a browser sent, its lines ended as the file's are; a line that stayed is as it was."""
    old = before.splitlines(keepends=True)
    new = posted.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    newline = "\r\n" if "\r\n" in before else "\n"
    bare = [line.rstrip("\r\n") for line in old]
    written = [f"{line}{newline}" for line in new[:-1]] + ([new[-1]] if new[-1] else [])
    head = _alike_at_start(bare, new)
    steps = SequenceMatcher(None, bare[head:], new[head:]).get_matching_blocks()
    for first, start, size in ((0, 0, head), *((head + one.a, head + one.b, one.size) for one in steps)):
        for number in range(size):
            if start + number < len(new) - 1:
                written[start + number] = old[first + number]
    return "".join(written)
