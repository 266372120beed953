"""What stands in the market file, in words: the heading of each page, and a line on each entry of a list."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from pipeline.desk.market_file.fields import Field
from pipeline.desk.market_file.groups import heading_of
from pipeline.desk.market_file.labels import PREMIUM
from pipeline.desk.market_file.layout import KeyPath, Step

MOST_SIGNS = 160
"""The longest line on an entry."""


def title_of(path: KeyPath, held: Any) -> str:
    """Return what the page of a path is headed by: the entry's name, or the words of the table or key."""
    if len(path) == 1:
        return heading_of(str(path[0]))[0]
    name = name_of(path[-1], held)
    return name if isinstance(path[-1], int) else name.replace("_", " ").capitalize()


def name_of(step: Step, held: Any) -> str:
    """Return the name of an entry of a list: its own, who pays a fee from when, or its number."""
    if isinstance(held, Mapping) and isinstance(step, int):
        words = held.get("name") or held.get("venue") or held.get("country")
        if words is None and "party" in held:
            party = str(held["party"])
            words = f"{PREMIUM.get(party, party)} from {held.get('starts_on', '?')}"
        if words is not None:
            return str(words)
    return f"Entry {step + 1}" if isinstance(step, int) else str(step)


def line_on(held: Any) -> str:
    """Return what an entry holds, in a line: its rates, its years, or its single values and what its lists count."""
    if not isinstance(held, Mapping):
        return ""
    if isinstance(held.get("tiers"), list):
        return _line_on_fees(held)
    parts = []
    for key, value in held.items():
        if key in ("name", "last_year"):
            continue
        if key == "first_year":
            parts.append(f"{value} to {held['last_year']}" if "last_year" in held else f"since {value}")
        elif isinstance(value, list | Mapping):
            parts.append(counted(len(value), key))
        elif key in _SELF_SPOKEN:
            parts.append(str(value))
        else:
            parts.append(f"{key.replace('_', ' ')} {_shown(value)}")
    return _cut(" · ".join(parts))


_SELF_SPOKEN = ("maker", "family", "kind", "currency", "country", "run", "venue", "files")
"""Keys whose values need no word before them."""


def counted(number: int, key: str) -> str:
    """Return how many a list has: "9 colourways"."""
    words = {"phrases": "words", "fees": "fees", "increments": "steps of bids"}.get(
        key, key.replace("_", " ")
    )
    return f"{number} {words.removesuffix('s') if number == 1 and words.count(' ') == 0 else words}"


def holds(one: Field, held: Any) -> str:
    """Return how much a table or a list holds, in words."""
    if held is None:
        return "not set"
    if one.shape.kind == "table":
        return f"{len(held)} of {len(one.shape.fields)} written"
    return (
        f"{len(held)} {'entry' if len(held) == 1 else 'entries'}"
        if isinstance(held, list | dict)
        else str(held)
    )


def _line_on_fees(held: Mapping[str, Any]) -> str:
    steps = [
        f"{_percent(one.get('rate'))} " + (f"up to {one['up_to']}" if "up_to" in one else "beyond")
        for one in held["tiers"]
        if isinstance(one, Mapping)
    ]
    said = ", ".join(steps) if len(steps) > 1 else " ".join(steps).removesuffix(" beyond")
    more = [f"tax {_percent(held['tax_rate'])} on it"] if held.get("tax_rate") else []
    more += [
        f"{words} {held[key]}" for key, words in (("minimum", "at least"), ("flat", "plus")) if held.get(key)
    ]
    return _cut("; ".join([said, *more]))


def _percent(rate: Any) -> str:
    if not isinstance(rate, int | Decimal):
        return str(rate)
    return f"{(Decimal(rate) * 100).normalize():f} %"


def _shown(value: Any) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def _cut(words: str) -> str:
    return words if len(words) <= MOST_SIGNS else f"{words[: MOST_SIGNS - 1]}…"
