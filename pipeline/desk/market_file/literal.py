"""Values as TOML writes them: in a line, or as tables with headers of their own."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

import tomlkit
from tomlkit.items import SingleKey

from pipeline.errors import MarketFileError

MOST_IN_A_LINE = 110
"""A longer list is written one entry a line."""


def literal(value: Any, *, newline: str = "\n", multiline: bool = False) -> str:
    """Return a value as it is written behind an equals sign, on one line unless `multiline`.

    Raises MarketFileError for a text with signs that TOML cannot hold.
    """
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return _text(value, newline, multiline=multiline and "\n" in value)
        case Decimal():
            return f"{value:f}"
        case int() | float():
            return repr(value)
        case date():
            return value.isoformat()
        case Mapping():
            members = ", ".join(f"{key_literal(key)} = {literal(one)}" for key, one in value.items())
            return f"{{ {members} }}" if members else "{}"
    entries = [literal(one) for one in value]
    line = f"[{', '.join(entries)}]"
    if not multiline or len(line) <= MOST_IN_A_LINE:
        return line
    return newline.join(["[", *(f"  {entry}," for entry in entries), "]"])


def pair(key: str, value: Any, newline: str) -> str:
    """Return a key with its value, as a line of a table."""
    return f"{key_literal(key)} = {literal(value, newline=newline, multiline=True)}{newline}"


def key_literal(*keys: str) -> str:
    """Return a key, dotted where there are several."""
    return ".".join(SingleKey(key).as_string() for key in keys)


def block(names: list[str], value: Mapping[str, Any], newline: str, *, is_item: bool) -> str:
    """Return a table under its own header, with the tables that it holds after it."""
    name = key_literal(*names)
    lines = [f"[[{name}]]{newline}" if is_item else f"[{name}]{newline}"]
    apart = {key for key, one in value.items() if stands_apart(one)}
    lines += [pair(key, one, newline) for key, one in value.items() if key not in apart]
    for key in value:
        if key in apart:
            parts = [value[key]] if isinstance(value[key], Mapping) else value[key]
            for one in parts:
                is_part = not isinstance(value[key], Mapping)
                lines += [newline, block([*names, key], one, newline, is_item=is_part)]
    return "".join(lines)


def stands_apart(value: Any) -> bool:
    """Whether a value is a table, or a list of tables that hold lists of tables, and gets headers of its own."""
    return isinstance(value, Mapping) or (
        _is_of_tables(value) and any(_is_of_tables(inner) for one in value for inner in one.values())
    )


def _is_of_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _text(value: str, newline: str, *, multiline: bool) -> str:
    if any(0xD800 <= ord(sign) <= 0xDFFF for sign in value):
        raise MarketFileError("a text holds a sign that is no letter (half of a pair)", "write it again.")
    if not multiline:
        return tomlkit.string(value).as_string()
    written = newline.join(tomlkit.string(line).as_string()[1:-1] for line in value.split("\n"))
    if '""' not in value and not value.endswith('"'):
        written = written.replace('\\"', '"')
    return f'"""{newline}{written}"""'
