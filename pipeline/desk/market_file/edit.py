"""A change of the market file's text, proved: what it holds otherwise is the same before and after."""

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import lru_cache
from typing import Any, Literal

from pipeline.desk.market_file.layout import KeyPath, Layout
from pipeline.desk.market_file.splice import insert, remove, set_value, shown, swap
from pipeline.errors import MarketFileError
from pipeline.toml_text import parse_toml

WHERE = "the market file"
"""What messages call the text that is edited."""


@dataclass(frozen=True)
class Change:
    """One change of the market file.

    "put" gives what is at the path a new value, down to the single values that differ; "add" puts a value into the list
    at the path, as its last; "remove" takes out what is at the path; "move up" puts an entry of a list before the one
    above it.
    """

    kind: Literal["put", "add", "remove", "move up"]
    path: KeyPath
    value: Any = None


def edited(text: str, change: Change) -> str:
    """Return the text of a market file with a change; every other line, comment and order stays as it was.

    Raises MarketFileError where the text cannot be parsed, where nothing is at the path, and where the change cannot be
    made without changing anything else.
    """
    before = tables_of(text)
    wanted = _copied_along(before, change.path)
    after = _change_text(text, before, change)
    _change_tables(wanted, change, blocks=Layout.of(text).blocks(change.path[:-1]) > 0)
    found = tables_of(after)
    if repr(found) != repr(wanted) and _full(found) != _full(wanted):
        raise MarketFileError(
            f"{shown(change.path)} cannot be changed without changing other lines; nothing was changed",
            "change it in the text of the file.",
        )
    return after


@lru_cache(maxsize=4)
def tables_of(text: str) -> dict[str, Any]:
    """Return the tables of a market file's text, which nobody may change; raises MarketFileError as `parse_toml`."""
    return parse_toml(text, where=WHERE)


def value_at(tables: Any, path: KeyPath) -> Any:
    """Return what parsed tables hold at a path, or None where they hold nothing there."""
    for step in path:
        if isinstance(tables, Mapping):
            tables = tables.get(step)
        elif isinstance(tables, list) and isinstance(step, int) and 0 <= step < len(tables):
            tables = tables[step]
        else:
            return None
    return tables


def _copied_along(tables: dict[str, Any], path: KeyPath) -> dict[str, Any]:
    """Return parsed tables of which those that lead to a path may be changed; all others are the same ones."""
    whole = copy(tables)
    owner: Any = whole
    for number, step in enumerate(path[:-1]):
        if value_at(tables, path[: number + 1]) is None:
            break
        owner[step] = copy(owner[step])
        owner = owner[step]
    return whole


def _change_text(text: str, before: Any, change: Change) -> str:
    here = value_at(before, change.path)
    match change.kind:
        case "put":
            return _put(text, change.path, here, change.value)
        case "add":
            return insert(Layout.of(text), change.path, len(here or ()), change.value)
    if here is None or (change.kind == "move up" and not _number(change.path)):
        raise MarketFileError(
            f"{shown(change.path)} is not in the market file, or is the first of its list; nothing was changed",
            "look at the list again.",
        )
    if change.kind == "remove":
        return remove(Layout.of(text), change.path)
    return swap(Layout.of(text), change.path[:-1], _number(change.path) - 1)


def _change_tables(tables: Any, change: Change, *, blocks: bool) -> None:
    """Make the change in parsed tables; the last of several [[blocks]] leaves no empty list behind."""
    *above, last = change.path
    owner = tables
    for step in above:
        owner = owner.setdefault(step, {}) if isinstance(owner, dict) else owner[step]
    match change.kind:
        case "put":
            owner[last] = change.value
        case "add":
            owner[last] = [*(owner.get(last) or ()), change.value]
        case "remove":
            del owner[last]
            if blocks and not owner:
                _change_tables(tables, Change("remove", tuple(above)), blocks=False)
        case "move up":
            number = _number(change.path)
            owner[number - 1], owner[number] = owner[number], owner[number - 1]


def _number(path: KeyPath) -> int:
    return path[-1] if path and isinstance(path[-1], int) else 0


def _put(text: str, path: KeyPath, old: Any, new: Any) -> str:
    """Return the text with only those values written again that differ."""
    if _is_table(old) and _is_table(new):
        for key in old:
            if key not in new:
                text = remove(Layout.of(text), (*path, key))
        for key, value in new.items():
            text = _put(text, (*path, key), old.get(key), value)
        return text
    if _is_list(old) and _is_list(new) and old and new:
        return _put_list(text, path, old, new)
    return (
        text
        if _same(old, new) or (old is None and new == {})
        else set_value(Layout.of(_cleared(text, path, old)), path, new)
    )


def _put_list(text: str, path: KeyPath, old: Sequence[Any], new: Sequence[Any]) -> str:
    """Return the text with the entries of a list that differ written again, from the last to the first."""
    steps = SequenceMatcher(None, [repr(one) for one in old], [repr(one) for one in new], autojunk=False)
    for kind, first, last, start, end in reversed(steps.get_opcodes()):
        if kind == "equal":
            continue
        both = min(last - first, end - start)
        for number in reversed(range(start + both, end)):
            text = insert(Layout.of(text), path, first + both, new[number])
        for number in reversed(range(first + both, last)):
            text = remove(Layout.of(text), (*path, number))
        for number in reversed(range(both)):
            text = _put(text, (*path, first + number), old[first + number], new[start + number])
    return text


def _cleared(text: str, path: KeyPath, old: Any) -> str:
    """Return the text without what is at a path, where that is no value written as one."""
    layout = Layout.of(text)
    return text if old is None or layout.value(path) is not None else remove(layout, path)


def _same(old: Any, new: Any) -> bool:
    return isinstance(old, bool) == isinstance(new, bool) and bool(old == new)


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping)


def _is_list(value: Any) -> bool:
    return isinstance(value, list | tuple)


def _full(tables: Any) -> Any:
    """Return parsed tables without empty ones, which mean nothing; a number and a yes or no are never equal."""
    if _is_table(tables):
        whole = {key: _full(one) for key, one in tables.items()}
        return {key: one for key, one in whole.items() if one != {}}
    if _is_list(tables):
        return [_full(one) for one in tables]
    return ("yes or no", tables) if isinstance(tables, bool) else tables
