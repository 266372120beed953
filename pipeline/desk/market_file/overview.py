"""The overview of the market file: its tables by group, and what `pairband check` has to say of it."""

import re
from typing import Any

from pipeline.desk.calls import call
from pipeline.desk.desk import Desk
from pipeline.desk.market_file.address import address_of
from pipeline.desk.market_file.fields import IN_MANY_FIELDS, market_shape
from pipeline.desk.market_file.groups import GROUPS
from pipeline.desk.market_file.layout import KeyPath
from pipeline.desk.market_file.titles import holds

_IN_QUOTES = re.compile(r"""'([^']+)'|"([^"]+)"|`(\w+)""")


def listed_groups(tables: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the groups of tables, each table with its address, its sentence, and how much it holds."""
    fields = {one.key: one for one in market_shape().fields}
    return [
        {
            "heading": group.heading,
            "is_folded": group.is_folded,
            "tables": [
                {
                    "label": label,
                    "says": says,
                    "key": key,
                    "href": address_of((key,)) if fields[key].shape.kind in IN_MANY_FIELDS else "",
                    "holds": holds(fields[key], tables.get(key)),
                }
                for key, (label, says) in group.tables.items()
            ],
        }
        for group in GROUPS
    ]


def remarks_of(desk: Desk, tables: dict[str, Any]) -> list[dict[str, str]]:
    """Return what `pairband check` warns of, each with the place that it is about, where one is named."""
    key = ("check", desk.moment())
    called = desk.answers.once(key, lambda: call("check", ()))
    places = _places(tables)
    found = []
    for words in (str(line) for sheet in called.sheets for line in sheet.warnings):
        names = ("".join(one) for one in _IN_QUOTES.findall(words))
        name = next((one for one in names if one in places), "")
        found.append({"words": words, "name": name, "href": address_of(places[name]) if name else ""})
    return found


def _places(tables: dict[str, Any]) -> dict[str, KeyPath]:
    """Return where each entry with a name stands, and each table; the first of a name wins."""
    found: dict[str, KeyPath] = {}
    for key, held in tables.items():
        for number, entry in enumerate(held if isinstance(held, list) else ()):
            if isinstance(entry, dict) and isinstance(entry.get("name"), str):
                found.setdefault(entry["name"], (key, number))
        if not isinstance(held, str):
            found.setdefault(key, (key,))
    return found
