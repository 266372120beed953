"""Where everything stands in the text of a TOML file, so that a change replaces its own characters and no others.

tomlkit counts the comment above a table to the table before it: removing the last era would take the heading of the
next section along, and adding one would put it below that heading. So lines are found here, and values are written by
tomlkit.
"""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

Step = str | int
KeyPath = tuple[Step, ...]
"""The keys and numbers (from zero) that lead to a value: ("venues", 0, "fees", 1, "minimum")."""

_BETWEEN = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*+")
_SPACE = re.compile(r"[ \t]*+")
_REST_OF_LINE = re.compile(r"[ \t]*+(?:#[^\n]*+)?\r?\n?")
_KEY = re.compile(r'[\w-]++|"(?:[^"\\\n]|\\.)*+"' r"|'[^'\n]*+'")
_SCALAR = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}'
    r"|'''(?:[^']|'{1,2}(?!'))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*+"'
    r"|'[^'\n]*+'"
    r"|[^,\]}#\r\n]++",
    re.DOTALL,
)


_TOKEN = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}'
    r"|'''(?:[^']|'{1,2}(?!'))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*+"'
    r"|'[^'\n]*+'"
    r"|#[^\n]*+"
    r"|[^][{}\"'#]++"
    r"|[][{}]",
    re.DOTALL,
)


@dataclass(frozen=True)
class Value:
    """A value in the text, from `start` up to `end`, and what it holds.

    A member has its step, and where its key starts (in an array, where it starts itself).
    """

    kind: Literal["scalar", "array", "inline table"]
    start: int
    end: int
    members: "tuple[Member, ...]" = ()


@dataclass(frozen=True)
class Member:
    """One member of an array or an inline table."""

    step: Step
    start: int
    value: Value


@dataclass(frozen=True)
class Statement:
    """A header or a pair, from the start of its first line to the end of its last.

    `scope` is the table that a pair is written in; of a header it is the table itself. `value_at` is where the value
    of a pair starts.
    """

    kind: Literal["pair", "table", "item"]
    path: KeyPath
    scope: KeyPath
    start: int
    end: int
    value_at: int | None = None


@dataclass(frozen=True)
class Layout:
    """A TOML text with its statements in order. The text must be one that the parser of TOML takes."""

    text: str
    statements: tuple[Statement, ...]

    @staticmethod
    @lru_cache(maxsize=4)
    def of(text: str) -> "Layout":
        """Return the layout of a text."""
        return Layout(text, tuple(_statements(text)))

    @property
    def newline(self) -> str:
        """The line ending of the file."""
        return "\r\n" if "\r\n" in self.text else "\n"

    def value(self, path: KeyPath) -> Value | None:
        """Return what is written as one value at a path, of a pair or within its array or inline table."""
        for length in range(len(path), 0, -1):
            if (start := self._starts.get(path[:length])) is not None:
                return _within(_value(self.text, start), path[length:])
        return None

    def line(self, path: KeyPath) -> int | None:
        """Return the line, from 1, of what stands at a path, or of the nearest above it; None where neither does."""
        for length in range(len(path), 0, -1):
            value = self.value(path[:length])
            below = self.under(path[:length])
            if value is not None or below:
                return self.text.count("\n", 0, value.start if value is not None else below[0].start) + 1
        return None

    @cached_property
    def _starts(self) -> dict[KeyPath, int]:
        return {one.path: one.value_at for one in self.statements if one.value_at is not None}

    def under(self, path: KeyPath) -> list[Statement]:
        """Return the statements at a path and below it, in order."""
        return [one for one in self.statements if one.path[: len(path)] == path]

    def blocks(self, path: KeyPath) -> int:
        """Return how many tables of an array are written as [[blocks]] there."""
        return sum(one.kind == "item" and one.path[:-1] == path for one in self.statements)

    def comment_above(self, start: int) -> int:
        """Return where the comment starts that stands right above a line, or the line itself."""
        floor = max((one.end for one in self.statements if one.end <= start), default=0)
        while start > floor:
            above = self.text.rfind("\n", 0, start - 1) + 1
            if not self.text[above:start].lstrip(" \t").startswith("#"):
                break
            start = above
        return start

    def is_first_on_its_line(self, start: int) -> bool:
        """Whether only spaces stand before a place on its line."""
        return not self.text[self.text.rfind("\n", 0, start) + 1 : start].strip(" \t")


def _statements(text: str) -> Iterator[Statement]:
    scope: KeyPath = ()
    counts: dict[KeyPath, int] = {}
    place = _end(_BETWEEN, text, 0)
    while place < len(text):
        start = text.rfind("\n", 0, place) + 1
        if text[place] == "[":
            is_item = text.startswith("[[", place)
            names, after = _keys(text, place + 1 + is_item)
            scope = _resolved(names, counts, is_item=is_item)
            end = _end(_REST_OF_LINE, text, after + 1 + is_item)
            yield Statement("item" if is_item else "table", scope, scope, start, end)
        else:
            names, after = _keys(text, place)
            value_at = _end(_SPACE, text, after + 1)
            end = _end(_REST_OF_LINE, text, _end_of_value(text, value_at))
            yield Statement("pair", (*scope, *names), scope, start, end, value_at)
        place = _end(_BETWEEN, text, end)


def _resolved(names: list[str], counts: dict[KeyPath, int], *, is_item: bool) -> KeyPath:
    """Return the path of a header: its names, with the number of the item that each array of tables is at."""
    path: KeyPath = ()
    for name in names[:-1]:
        path = (*path, name)
        if path in counts:
            path = (*path, counts[path] - 1)
    path = (*path, names[-1])
    if is_item:
        counts[path] = counts.get(path, 0) + 1
        path = (*path, counts[path] - 1)
    return path


def _keys(text: str, place: int) -> tuple[list[str], int]:
    """Return the names of a dotted key, and the place of the sign after it."""
    names = []
    while True:
        place = _end(_SPACE, text, place)
        end = _end(_KEY, text, place)
        names.append(_name(text[place:end]))
        place = _end(_SPACE, text, end)
        if text[place] != ".":
            return names, place
        place += 1


def _name(key: str) -> str:
    return key if key[0] not in "\"'" else next(iter(tomllib.loads(f"{key} = 0")))


def _end_of_value(text: str, place: int) -> int:
    """Return where a value ends, without a look at what it holds."""
    if text[place] not in "[{":
        return _end(_SCALAR, text, place)
    depth = 0
    for token in _TOKEN.finditer(text, place):
        depth += (token[0] in ("[", "{")) - (token[0] in ("]", "}"))
        if not depth:
            return token.end()
    return len(text)


def _within(value: Value, path: KeyPath) -> Value | None:
    """Return what a value holds at a path; a dotted key may stand in several members."""
    if not path:
        return value
    several = (_within(one.value, path[1:]) for one in value.members if one.step == path[0])
    return next((one for one in several if one is not None), None)


def _value(text: str, place: int) -> Value:
    if text[place] == "[":
        return _array(text, place)
    if text[place] == "{":
        return _inline_table(text, place)
    end = _end(_SCALAR, text, place)
    return Value("scalar", place, place + len(text[place:end].rstrip(" \t")))


def _array(text: str, start: int) -> Value:
    members: list[Member] = []
    place = _end(_BETWEEN, text, start + 1)
    while text[place] != "]":
        value = _value(text, place)
        members.append(Member(len(members), place, value))
        place = _end(_BETWEEN, text, value.end)
        if text[place] == ",":
            place = _end(_BETWEEN, text, place + 1)
    return Value("array", start, place + 1, tuple(members))


def _inline_table(text: str, start: int) -> Value:
    members: list[Member] = []
    place = _end(_BETWEEN, text, start + 1)
    while text[place] != "}":
        names, after = _keys(text, place)
        value = _value(text, _end(_SPACE, text, after + 1))
        for name in reversed(names[1:]):
            value = Value("inline table", place, value.end, (Member(name, place, value),))
        members.append(Member(names[0], place, value))
        place = _end(_BETWEEN, text, value.end)
        if text[place] == ",":
            place = _end(_BETWEEN, text, place + 1)
    return Value("inline table", start, place + 1, tuple(members))


def _end(pattern: re.Pattern[str], text: str, place: int) -> int:
    found = pattern.match(text, place)
    return found.end() if found else place
