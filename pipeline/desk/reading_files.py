"""The files of the folder, each with what is known of it: when it was read, by which map, or why it cannot be."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal
from weakref import WeakKeyDictionary

from pipeline.alike import fold_all
from pipeline.config import Market
from pipeline.desk.desk import EXPORTS, Desk, Newest, stamp_of
from pipeline.errors import MapError, PairbandError
from pipeline.ingest.choice import map_of_lots, maps_of_name, read_mapped
from pipeline.ingest.money import market_rates
from pipeline.ingest.own_columns import MAP_NAME
from pipeline.ingest.quarantine import is_quarantine_list
from pipeline.ingest.readers.export import is_lock_file, open_export
from pipeline.ledger.files import file_digest
from pipeline.rests_on import reading_digest
from pipeline.state import was_written

MOST_LOOKED_INTO = 20_000_000
"""Bytes of files that a page looks into to say whether their map fits; of others it goes by the name."""

Known = Literal["read", "outdated", "changed", "unread", "unmapped", "lots", "unreadable", "no export"]
"""What is known of a file. "outdated" is one that was read before its map or the market file changed, "changed" one of
which an earlier version was read, "unmapped" one that no map is for or fits."""


@dataclass(frozen=True)
class FileKnown:
    """A file of the folder as it stands: the map that is for it, what came of its last reading, and what is wrong."""

    name: str
    size_bytes: int
    known: Known
    map_name: str | None
    holds: str
    reading: Mapping[str, Any] | None
    fault: str = ""

    @property
    def is_new(self) -> bool:
        """Whether reading it would tell something that the ledger does not have."""
        return self.known in ("unread", "changed")

    @property
    def is_outdated(self) -> bool:
        """Whether it would be read in another way now than it was."""
        return self.known == "outdated"

    @property
    def file_name(self) -> str:
        """The name of the file alone, by which the ledger knows it."""
        return Path(self.name).name


@dataclass(frozen=True)
class _Look:
    """What a file says of itself: the map that reads it, or why none does."""

    map_name: str | None = None
    fault: str = ""
    is_readable: bool = True


class _Memory:
    """What one desk found out about files, by their name, time and size."""

    def __init__(self) -> None:
        self.digests: Newest[str] = Newest(2_000)
        self.looks: Newest[_Look] = Newest(2_000)
        self.maps: Newest[dict[str, str]] = Newest(3)


_MEMORIES: WeakKeyDictionary[Desk, _Memory] = WeakKeyDictionary()


def known_files(desk: Desk) -> list[FileKnown]:
    """Return the files of the folder, those that await something before those that were read.

    What is no export is named only where it came in as one.
    """
    market = desk.market()
    readings = _readings(desk)
    digests = _digests_of_maps(desk, market)
    left = MOST_LOOKED_INTO
    found = []
    for name in desk.files():
        size = Path(name).stat().st_size
        looks_into = size <= left
        one = _known(desk, name, size, market, readings, digests, looks_into=looks_into)
        left -= size if looks_into and one.reading is None else 0
        found.append(one)
    found = [one for one in found if one.known != "no export" or Path(one.name).parent == Path(EXPORTS)]
    order = ("unreadable", "unmapped", "changed", "unread", "outdated", "read", "lots", "no export")
    return sorted(found, key=lambda one: order.index(one.known))


def known_file(desk: Desk, name: str) -> FileKnown | None:
    """Return what is known of one file; None where the folder has none of that name."""
    if name not in desk.files():
        return None
    market = desk.market()
    size = Path(name).stat().st_size
    return _known(
        desk,
        name,
        size,
        market,
        _readings(desk),
        _digests_of_maps(desk, market),
        looks_into=size <= MOST_LOOKED_INTO,
    )


def digest_of(desk: Desk, name: str) -> str:
    """Return the digest of what a file holds, by which the ledger knows it; "" where it cannot be read."""
    path = Path(name)
    try:
        seen = path.stat()
        key = (name, seen.st_mtime_ns, seen.st_size)
        return _memory(desk).digests.once(key, lambda: file_digest(path)[0])
    except OSError:
        return ""


def _memory(desk: Desk) -> _Memory:
    return _MEMORIES.setdefault(desk, _Memory())


def _readings(desk: Desk) -> list[dict[str, Any]]:
    if not desk.has_ledger:
        return []
    with desk.workspace() as workspace:
        return workspace.ledger.read("staging/known_readings").to_dicts()


def _digests_of_maps(desk: Desk, market: Market | None) -> dict[str, str]:
    """Return the digest of what decides a reading, by map."""
    if market is None:
        return {}
    own_rates = stamp_of(Path(market.rates.file)) if market.rates.file is not None else None
    key = (stamp_of(desk.market_path), own_rates)

    def digests() -> dict[str, str]:
        rates = market_rates(market)
        return {name: reading_digest(one, market, rates) for name, one in market.maps.items()}

    return _memory(desk).maps.once(key, digests)


def _known(
    desk: Desk,
    name: str,
    size: int,
    market: Market | None,
    readings: list[dict[str, Any]],
    digests: Mapping[str, str],
    *,
    looks_into: bool,
) -> FileKnown:
    path = Path(name)
    if (why := _no_export(path)) is not None:
        return FileKnown(name, size, "no export", None, "", None, why)
    sha256 = digest_of(desk, name)
    reading = next((one for one in readings if one["file_sha256"] == sha256), None)
    if reading is not None and reading["replaced_by"] is None:
        map_name = reading["map_name"]
        holds = market.maps[map_name].holds if market is not None and map_name in market.maps else "sales"
        is_old = map_name != MAP_NAME and digests.get(map_name) != reading["reading_digest"]
        return FileKnown(name, size, "outdated" if is_old else "read", map_name, holds, reading)
    if market is None:
        return FileKnown(name, size, "unmapped", None, "", None, "The market file has to be put right first.")
    if (lots := map_of_lots(path, market)) is not None:
        return FileKnown(name, size, "lots", lots, "lots", None)
    look = _look(desk, path, market) if looks_into else _by_name_alone(path, market)
    if look.map_name is None and was_written(sha256):
        return FileKnown(name, size, "no export", None, "", None, "pairband wrote it.")
    if not look.is_readable:
        return FileKnown(name, size, "unreadable", None, "", None, look.fault)
    if look.map_name is None:
        return FileKnown(name, size, "unmapped", None, "", None, look.fault)
    holds = market.maps[look.map_name].holds if look.map_name in market.maps else "sales"
    [own, *others] = fold_all([path.name, *(one["file_name"] for one in readings)])
    before = [one for one, form in zip(readings, others, strict=True) if form == own]
    if before and holds == "sales":
        return FileKnown(name, size, "changed", look.map_name, holds, before[-1])
    return FileKnown(name, size, "unread", look.map_name, holds, None)


def _no_export(path: Path) -> str | None:
    """Return why a file is never read, known without looking into it; None where it may be an export."""
    if is_lock_file(path):
        return "A spreadsheet program has a file open, and leaves this beside it."
    if is_quarantine_list(path):
        return "A list of rows in quarantine, which pairband wrote."
    return None


def _look(desk: Desk, path: Path, market: Market) -> _Look:
    """Look into a file for the map that fits it."""
    seen = path.stat()
    key = (str(path), seen.st_mtime_ns, seen.st_size, stamp_of(desk.market_path))
    return _memory(desk).looks.once(key, lambda: _look_into(path, market))


def _look_into(path: Path, market: Market) -> _Look:
    try:
        export = read_mapped(open_export(path), market, None, ("sales", "stock"))
        return _Look(export.map_name)
    except MapError as exc:
        return _Look(fault=_fault_of_map(path, market, exc))
    except PairbandError as exc:
        return _Look(fault=str(exc), is_readable=False)


def _by_name_alone(path: Path, market: Market) -> _Look:
    claimed = list(maps_of_name(path, market))
    return _Look(claimed[0]) if claimed else _Look(fault="No map is for files of this name.")


def _fault_of_map(path: Path, market: Market, exc: MapError) -> str:
    """Return why no map reads a file; "" where none is for it, which is no fault."""
    return str(exc) if maps_of_name(path, market) else ""
