"""A market file's text with a map put in: every other line, comment and order stays as it was."""

import re
from collections.abc import Mapping
from fnmatch import fnmatch
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.items import Table

from pipeline.alike import fold_all
from pipeline.config import Market
from pipeline.errors import MapError
from pipeline.toml_text import parse_toml

if TYPE_CHECKING:
    from pipeline.ingest.proposal import Holds


def with_map(
    text: str, name: str, table: Table, venue: Mapping[str, str] | None, *, instead: str | None
) -> str:
    """Return the text with a map of that name, and with a new venue where one is given.

    The map stands at the end, or in the place of the map `instead`. What the text holds otherwise is compared
    before and after: raises MapError where anything else would change.
    """
    added = tomlkit.document()
    if venue is not None:
        venues = tomlkit.aot()
        one = tomlkit.table()
        for key, value in venue.items():
            one.add(key, value)
        one.comment("its fees are not known yet: `pairband init` shows how they are written")
        venues.append(one)
        added.add("venues", venues)
    if instead is None:
        maps = tomlkit.table(is_super_table=True)
        maps.add(name, table)
        added.add("maps", maps)
        changed = text
    else:
        changed = _replaced(text, instead, table)
    written = f"{changed.rstrip()}\n\n{tomlkit.dumps(added)}".rstrip() + "\n"
    if "\r\n" in text:
        written = re.sub(r"\r?\n", "\r\n", written)
    _refuse_other_changes(text, written, instead or name, table, venue)
    return written


def map_name_for(name: str, market: Market) -> str:
    """Return a name for a new map that no map has."""
    taken = set(fold_all(market.maps))
    free = re.sub(r"[^\w-]+", "_", name)[:60] or "export"
    return next(
        one
        for one in (free, *(f"{free}_{count}" for count in range(2, 10_000)))
        if fold_all([one])[0] not in taken
    )


def maps_for(file_name: str, market: Market, holds: "Holds" = "sales") -> list[str]:
    """Return the maps of sales, or of what a file `holds`, that are for files of that name already."""
    [name] = fold_all([file_name])
    return [
        key
        for key, one in market.maps.items()
        if one.holds == holds and fnmatch(name, fold_all([one.files])[0])
    ]


def _replaced(text: str, name: str, table: Table) -> str:
    document = tomlkit.parse(text)
    maps: Any = document["maps"]
    maps[name] = table
    return tomlkit.dumps(document)


def _refuse_other_changes(
    before: str, after: str, name: str, table: Table, venue: Mapping[str, str] | None
) -> None:
    wanted = parse_toml(before, where="the market file")
    wanted.setdefault("maps", {})[name] = parse_toml(tomlkit.dumps(table), where="the map")
    if venue is not None:
        wanted.setdefault("venues", []).append(dict(venue))
    if parse_toml(after, where="the market file") != wanted:
        raise MapError(
            f"the map {name!r} cannot be put into the market file without changing other lines; it was left as it is",
            "run `pairband map FILE --print` and paste the map in yourself.",
        )
