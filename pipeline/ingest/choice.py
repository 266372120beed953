"""Choose the export map of a file: by name, or by the file's name and columns."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from pathlib import Path

import polars as pl

from pipeline.alike import fold_all
from pipeline.config import ExportMap, Market
from pipeline.errors import MapError, suggest
from pipeline.ingest.fields import columns_of_export, map_hints, mapped_columns
from pipeline.ingest.headers import missing_columns
from pipeline.ingest.own_columns import MAP_NAME, map_of_own_columns
from pipeline.ingest.personal import names_nobody_else, personal_columns
from pipeline.ingest.readers import Hints, TextTable, read_tables
from pipeline.ingest.readers.export import ExportFile
from pipeline.ingest.row_kinds import lay_out

_PROPOSE = "`pairband map FILE` proposes a map; put it into the market file."


@dataclass(frozen=True)
class MappedExport:
    """A file that has been read, with the map that fits it; personal columns are gone.

    `dropped` names the columns of personal data that the map does not read.
    """

    file: ExportFile
    map_name: str
    export_map: ExportMap
    tables: tuple[TextTable, ...]
    dropped: tuple[str, ...]


def map_of_lots(path: Path, market: Market) -> str | None:
    """Return the map of a file that only a map of lots is for, else None."""
    claimed = maps_of_name(path, market)
    if any(export_map.holds != "lots" for export_map in claimed.values()):
        return None
    return next(iter(claimed), None)


def maps_of_name(path: Path, market: Market) -> dict[str, ExportMap]:
    """Return the maps whose pattern fits a file's name."""
    name, *patterns = fold_all([path.name, *(one.files for one in market.maps.values())])
    maps = zip(market.maps.items(), patterns, strict=True)
    return {key: one for (key, one), pattern in maps if fnmatch(name, pattern)}


def read_mapped(file: ExportFile, market: Market, map_name: str | None, holds: Sequence[str]) -> MappedExport:
    """Read a file by the map of that name, or by the one map whose pattern and columns fit it.

    An export of sales with the columns of a sale record needs no map.

    `holds` are the kinds of map that are meant ("sales", "lots", "stock"). Raises MapError where no map or
    several fit, or where the map names a column that is not there; ExportError as the readers do.
    """
    if map_name is not None:
        chosen = {map_name: market.export_map(map_name)}
        if chosen[map_name].holds not in holds:
            raise MapError(
                f"the map {map_name!r} is for {chosen[map_name].holds}, not for {' or '.join(holds)}",
                suggest(map_name, [name for name, other in market.maps.items() if other.holds in holds]),
            )
    else:
        claimed = maps_of_name(file.path, market)
        chosen = {name: export_map for name, export_map in claimed.items() if export_map.holds in holds}
    own = map_name is None and "sales" in holds
    if not chosen:
        if own and (mapped := _by_own_columns(file, market)) is not None:
            return mapped
        patterns = ", ".join(sorted(item.files for item in market.maps.values() if item.holds in holds))
        raise MapError(
            f"no map is for files called {file.path.name} (maps are for: {patterns or 'none'})", _PROPOSE
        )
    read = {name: read_tables(file, map_hints(export_map)) for name, export_map in chosen.items()}
    fitting = {name: tables for name, tables in read.items() if not _missing(tables, chosen[name])}
    if len(fitting) > 1:
        raise MapError(
            f"{file.path} fits several maps: {', '.join(fitting)}", "say which with --map, or narrow `files`."
        )
    if not fitting:
        if own and (mapped := _by_own_columns(file, market)) is not None:
            return mapped
        name, tables = min(read.items(), key=lambda item: len(_missing(item[1], chosen[item[0]])))
        missing, columns = _missing(tables, chosen[name])[0]
        raise MapError(
            f"{file.path} has no column {missing!r}, which the map {name!r} names; it has: {', '.join(columns)}",
            suggest(missing, columns),
        )
    name, tables = next(iter(fitting.items()))
    return _mapped(file, name, chosen[name], tables)


def _mapped(file: ExportFile, name: str, export_map: ExportMap, tables: Sequence[TextTable]) -> MappedExport:
    records = [lay_out(table, export_map, where=str(file.path)) for table in tables]
    cleaned = [without_personal(table, mapped_columns(export_map)) for table in records]
    dropped = tuple(dict.fromkeys(column for _, columns in cleaned for column in columns))
    return MappedExport(
        replace(file, content=b""), name, export_map, tuple(table for table, _ in cleaned), dropped
    )


def _by_own_columns(file: ExportFile, market: Market) -> MappedExport | None:
    """Return a file whose headings are the columns of a sale record: it needs no map. None where they are not."""
    tables = read_tables(file, Hints())
    maps = [map_of_own_columns(table.cells, market, file.path.name) for table in tables]
    if not maps or maps[0] is None or any(one is None or one != maps[0] for one in maps):
        return None
    return _mapped(file, MAP_NAME, maps[0], tables)


def _missing(tables: Sequence[TextTable], export_map: ExportMap) -> list[tuple[str, list[str]]]:
    """Return each missing column with the columns of the sheet that lacks it."""
    return [
        (name, table.cells.columns)
        for table in tables
        for name in missing_columns(table.cells.columns, columns_of_export(export_map))
    ]


def without_personal(table: TextTable, mapped: Sequence[str]) -> tuple[TextTable, list[str]]:
    """Return the table without the columns of personal data that no field is read from, and their names.

    Of a column that is called "name" and nothing else the owner alone knows whose it is: unmapped, it goes too.
    Where a table has any column that no field is read from, the text of a row that does not split into cells is
    withheld, since nobody can tell which part of it is personal.
    """
    unread = missing_columns(mapped, table.cells.columns)
    of_people = {*personal_columns(table.cells.select(unread)), *filter(names_nobody_else, unread)}
    personal = [name for name in unread if name in of_people]
    if not unread:
        return table, []
    withheld = pl.lit('{"line":"withheld: the export has columns that the map does not read"}').alias("cells")
    return (
        TextTable(
            sheet=table.sheet,
            cells=table.cells.drop(personal),
            row_numbers=table.row_numbers,
            faults=table.faults.with_columns(withheld),
            notes=table.notes,
            numbers_are_plain=table.numbers_are_plain,
            encoding=table.encoding,
        ),
        personal,
    )
