"""Which values of a market file name something else in it: their choices, and how they follow a new name."""

from collections.abc import Iterator
from typing import Any

from pipeline.desk.market_file.edit import Change, edited, tables_of, value_at
from pipeline.desk.market_file.layout import KeyPath, Step

ANY = "*"
NAMED: dict[str, tuple[tuple[str, ...], ...]] = {
    "venues": (("maps", ANY, "venue"), ("imports", ANY, "venue"), ("buying", "sells_at")),
    "defects": (("treatments", ANY, "cures"),),
}
"""Where the names of a list stand elsewhere, as one value or as a list of them; ANY is any number or name."""


def names_for(tables: Any, path: KeyPath) -> tuple[str, ...]:
    """Return the names of the market file that the value at a path may take; none where it is no name."""
    for kind, places in NAMED.items():
        if any(_fits(path, place) for place in places):
            entries = value_at(tables, (kind,)) or []
            return tuple(one["name"] for one in entries if isinstance(one, dict) and "name" in one)
    return ()


def with_name_followed(text: str, kind: str, old: str, new: str) -> str:
    """Return the text with every value that names an entry of a list by its old name giving its new one."""
    tables = tables_of(text)
    for place in NAMED.get(kind, ()):
        for path in _paths(tables, place, ()):
            held = value_at(tables, path)
            if held == old:
                text = edited(text, Change("put", path, new))
            elif isinstance(held, list) and old in held:
                text = edited(text, Change("put", path, [new if one == old else one for one in held]))
    prior = value_at(tables, ("era_odds", "prior"))
    if kind == "eras" and isinstance(prior, dict) and old in prior:
        renamed = {new if name == old else name: chance for name, chance in prior.items()}
        text = edited(text, Change("put", ("era_odds", "prior"), renamed))
    return text


def _fits(path: KeyPath, place: tuple[str, ...]) -> bool:
    return len(path) == len(place) and all(
        meant in (ANY, step) for step, meant in zip(path, place, strict=True)
    )


def _paths(tables: Any, place: tuple[str, ...], path: KeyPath) -> Iterator[KeyPath]:
    """Yield the paths of a place that the tables have."""
    if not place:
        yield path
        return
    first, *rest = place
    held = value_at(tables, path)
    steps: list[Step] = [first]
    if first == ANY:
        steps = list(held) if isinstance(held, dict) else list(range(len(held or ())))
    for step in steps:
        yield from _paths(tables, tuple(rest), (*path, step))
