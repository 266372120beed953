"""A change of one value in the text of a TOML file; no other sign of it changes."""

import re
from collections.abc import Mapping
from typing import Any

from pipeline.desk.market_file.layout import KeyPath, Layout, Statement, Value
from pipeline.desk.market_file.literal import block, key_literal, literal, pair, stands_apart
from pipeline.errors import MarketFileError

_NOTHING_ELSE = re.compile(r"[ \t]*+(,?)([ \t]*+(?:#[^\n]*+)?)(?:\r?\n)")
"""The rest of a line on which no other value stands: a comma, a comment."""

_COMMA = re.compile(r"[ \t]*+,[ \t]*+")


def set_value(layout: Layout, path: KeyPath, value: Any) -> str:
    """Return the text with a value put in the place of what is at a path, or added there."""
    text = layout.text
    here = layout.value(path)
    if here is not None:
        multiline = path in {one.path for one in layout.statements}
        written = literal(value, newline=layout.newline, multiline=multiline)
        return _put(text, here.start, here.end, written)
    *_, key = path
    table = layout.value(path[:-1])
    if table is not None:
        return _with_member(text, table, f"{key_literal(str(key))} = {literal(value)}")
    if stands_apart(value) or (_is_list_of_tables(value) and len(path) == 1):
        return _with_blocks(layout, path, value)
    return _with_pair(layout, path[:-1], str(key), value)


def remove(layout: Layout, path: KeyPath) -> str:
    """Return the text without what is at a path: a key, a table with all that it holds, an entry of a list."""
    owner = layout.value(path[:-1])
    if owner is not None:
        return _without_member(layout, owner, path)
    start, end = _span(layout, path)
    text = layout.text
    if layout.under(path)[0].kind != "pair" and (not start or text[:start].endswith(("\n\n", "\n\r\n"))):
        blank = re.compile(r"(?:[ \t]*\r?\n)*").match(text, end)
        end = blank.end() if blank else end
    return text[:start] + text[end:]


def insert(layout: Layout, path: KeyPath, number: int, value: Any) -> str:
    """Return the text with an entry put into the list at a path, before the entry of that number."""
    here = layout.value(path)
    if here is not None and (here.members or not isinstance(value, Mapping)):
        return _with_entry(layout, here, number, literal(value))
    if here is not None:
        return set_value(Layout.of(remove(layout, path)), path, [value])
    count = layout.blocks(path)
    if not count:
        return set_value(layout, path, [value])
    written = block([one for one in path if isinstance(one, str)], value, layout.newline, is_item=True)
    if number < count:
        at = layout.under((*path, number))[0].start
        return _put(layout.text, at, at, written + layout.newline)
    return _put_lines(layout, layout.under((*path, count - 1))[-1].end, layout.newline + written)


def swap(layout: Layout, path: KeyPath, number: int) -> str:
    """Return the text with an entry of the list at a path and the next one in each other's place."""
    here = layout.value(path)
    if here is not None:
        first, second = (here.members[one].value for one in (number, number + 1))
        spans = ((first.start, first.end), (second.start, second.end))
    else:
        spans = (_span(layout, (*path, number)), _span(layout, (*path, number + 1)))
    (start, middle), (after, end) = spans
    text = layout.text
    last = text[after:end]
    if here is None and not last.endswith("\n"):
        last += layout.newline
    return text[:start] + last + text[middle:after] + text[start:middle] + text[end:]


def _span(layout: Layout, path: KeyPath) -> tuple[int, int]:
    """Return where a pair, or a table with all below it, starts and ends in the text.

    The comment right above a table is of it, but above the first of several it is the heading of them all. Raises
    MarketFileError where other tables stand in between.
    """
    below = layout.under(path)
    number = layout.statements.index(below[0])
    if layout.statements[number : number + len(below)] != tuple(below):
        raise MarketFileError(
            f"what {shown(path)} holds stands in several places of the market file, with other tables in between",
            "change it in the text of the file.",
        )
    first = below[0]
    is_later = first.kind == "item" and first.path == path and path[-1] != 0
    return (layout.comment_above(first.start) if is_later else first.start), below[-1].end


def shown(path: KeyPath) -> str:
    """Return a path as messages name it; tables count from 1."""
    return ".".join(str(step + 1) if isinstance(step, int) else step for step in path) or "the file"


def _with_pair(layout: Layout, table: KeyPath, key: str, value: Any) -> str:
    """Return the text with a pair added to a table, after those that it has."""
    inside = [one for one in layout.statements if one.kind == "pair" and one.path[:-1] == table]
    heads = [one for one in layout.statements if one.kind != "pair" and one.path == table]
    if inside or heads:
        anchor = (inside or heads)[-1]
        names = [one for one in (*table[len(anchor.scope) :], key) if isinstance(one, str)]
        line = _indent(layout.text, anchor) + _dotted(pair(key, value, layout.newline), names)
        return _put_lines(layout, anchor.end, line)
    if not table:
        return pair(key, value, layout.newline) + layout.newline + layout.text
    return _with_blocks(layout, table, {key: value})


def _with_blocks(layout: Layout, path: KeyPath, value: Any) -> str:
    """Return the text with a table, or a list of tables, added after all that its owner holds."""
    owner = path[:-1]
    while owner and not layout.under(owner):
        owner = owner[:-1]
    below = layout.under(owner)
    at = below[-1].end if owner else len(layout.text.rstrip())
    names = [one for one in path if isinstance(one, str)]
    several = not isinstance(value, Mapping)
    parts = value if several else [value]
    written = layout.newline.join(block(names, one, layout.newline, is_item=several) for one in parts)
    if owner:
        return _put_lines(layout, at, layout.newline + written)
    kept = layout.text[:at]
    return f"{kept}{layout.newline * 2 if kept else ''}{written}"


def _with_member(text: str, table: Value, written: str) -> str:
    if not table.members:
        return _put(text, table.start, table.end, f"{{ {written} }}")
    last = table.members[-1].value.end
    return _put(text, last, last, f", {written}")


def _with_entry(layout: Layout, array: Value, number: int, written: str) -> str:
    text, members = layout.text, array.members
    if not members:
        comma = "," if "\n" in text[array.start : array.end] else ""
        return _put(text, array.start + 1, array.start + 1, written + comma)
    near = members[min(number, len(members) - 1)].value
    alone = layout.is_first_on_its_line(near.start)
    indent = text[text.rfind("\n", 0, near.start) + 1 : near.start] if alone else ""
    if number < len(members):
        behind = f",{layout.newline}{indent}" if alone else ", "
        return _put(text, near.start, near.start, written + behind)
    rest = _NOTHING_ELSE.match(text, near.end)
    if not alone or rest is None:
        return _put(text, near.end, near.end, f", {written}")
    comma, comment = rest.groups()
    lines = f",{comment}{layout.newline}{indent}{written}{comma}{layout.newline}"
    return _put(text, near.end, rest.end(), lines)


def _without_member(layout: Layout, owner: Value, path: KeyPath) -> str:
    text = layout.text
    numbers = [number for number, one in enumerate(owner.members) if one.step == path[-1]]
    number = numbers[-1]
    start, end = owner.members[number].start, owner.members[number].value.end
    rest = _NOTHING_ELSE.match(text, end)
    if owner.kind == "array" and layout.is_first_on_its_line(start) and rest is not None:
        return text[: text.rfind("\n", 0, start) + 1] + text[rest.end() :]
    if number + 1 < len(owner.members) and "#" not in text[end : owner.members[number + 1].start]:
        return text[:start] + text[owner.members[number + 1].start :]
    if number and "#" not in text[owner.members[number - 1].value.end : start]:
        return text[: owner.members[number - 1].value.end] + text[end:]
    comma = _COMMA.match(text, end)
    return text[:start] + text[comma.end() if comma else end :]


def _dotted(line: str, names: list[str]) -> str:
    """Return the line of a pair with its last name written as a dotted key."""
    return line if len(names) == 1 else f"{key_literal(*names[:-1])}.{line}"


def _indent(text: str, anchor: Statement) -> str:
    return text[anchor.start : anchor.end][: -len(text[anchor.start : anchor.end].lstrip(" \t"))]


def _is_list_of_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _put_lines(layout: Layout, at: int, lines: str) -> str:
    before = layout.text[:at]
    return (before if before.endswith("\n") else before + layout.newline) + lines + layout.text[at:]


def _put(text: str, start: int, end: int, written: str) -> str:
    return text[:start] + written + text[end:]
