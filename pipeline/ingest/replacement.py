"""Which earlier readings a file takes the place of, and what that changes."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Literal

import polars as pl

from pipeline.alike import fold_all
from pipeline.errors import ExportError, UnknownName
from pipeline.ingest.again import Alike, compare_rows
from pipeline.ingest.choice import MappedExport
from pipeline.ingest.contacts import mask_contacts
from pipeline.ingest.normalise import mapped_cells
from pipeline.ledger import Ledger

MOST_SHOWN = 5
"""How many rows of a kind are shown of what a replacement changed."""

Answer = Literal["replace", "add"]


@dataclass(frozen=True)
class Earlier:
    """A reading of a file of the same name and map, and how the rows of the file at hand compare with its rows."""

    file_sha256: str
    name: str
    alike: Alike


@dataclass(frozen=True)
class Doubt:
    """A file that may be a new version of what was read before, or another file of its name."""

    name: str
    earlier: str
    again: int
    rows: int
    gone: int

    @property
    def what(self) -> str:
        """The doubt in a sentence."""
        return (
            f"{self.name} may be a new version of the {self.earlier} that was read before, or another file: "
            f"{self.again:,} of its {self.rows:,} rows come again"
        )


Settle = Callable[[Doubt], Answer | None]
"""Asks the owner what to do about a doubt; None where nobody can be asked."""


@dataclass(frozen=True)
class Change:
    """A row that a replacement added, changed or took away; of a changed one, one cell before and after."""

    kind: Literal["new", "changed", "gone"]
    sheet: str
    row_number: int
    column: str
    before: str | None
    after: str | None


@dataclass(frozen=True)
class Replaced:
    """What a file changed of the reading that it took the place of: counts of rows, and the first of each kind."""

    name: str
    unchanged: int
    changed: int
    fresh: int
    gone: int
    examples: tuple[Change, ...]


@dataclass(frozen=True)
class Wish:
    """What the owner said of files that come again.

    `replace` is the name of the reading that the file takes the place of; `add` says that every file adds to what is
    there; `settle` asks where it is unclear.
    """

    replace: str | None = None
    add: bool = False
    settle: Settle | None = None


@dataclass(frozen=True)
class Place:
    """What a file does to earlier readings: those that it takes the place of, and those beside which it stands."""

    replaces: tuple[Earlier, ...] = ()
    beside: tuple[Earlier, ...] = ()


def rows_of(export: MappedExport) -> pl.DataFrame:
    """Return the rows of an export as the ledger keeps them: sheet, row_number, cells."""
    parts = []
    for table in export.tables:
        cells, _ = mapped_cells(table.cells, export.export_map, where=str(export.file.path))
        faults, _ = mask_contacts(table.faults.select("cells"))
        numbers = pl.concat([table.row_numbers.cast(pl.Int64), table.faults["row_number"].cast(pl.Int64)])
        texts = pl.concat([cells, *faults])
        parts.append(
            pl.DataFrame({"row_number": numbers, "cells": texts}).with_columns(sheet=pl.lit(table.sheet))
        )
    return pl.concat(parts).select("sheet", "row_number", "cells").sort("sheet", "row_number")


def earlier_of(ledger: Ledger, export: MappedExport, wish: Wish, *, alone: bool) -> tuple[Earlier, ...]:
    """Return the earlier readings, by its map, of a file that has not been read yet, compared with it.

    They are those of its name, or those of the name that the owner gave; `alone` says that the file is the only one
    of the run, so that this may be another name. Raises UnknownName where there is no reading of that name.
    """
    if wish.add or export.export_map.holds != "sales":
        return ()
    sha256, name = export.file.sha256, export.file.path.name
    if ledger.read("staging/known_file", file_sha256=sha256).height and wish.replace is None:
        return ()
    files = ledger.read("staging/earlier_files", map_name=export.map_name, file_sha256=sha256)
    candidates = files.filter(_wanted(name, files["file_name"].to_list(), wish.replace, alone=alone))
    if not candidates.height:
        return ()
    later = rows_of(export)
    return tuple(
        Earlier(
            row["file_sha256"],
            row["file_name"],
            compare_rows(
                ledger.read("staging/file_rows", file_sha256=row["file_sha256"]), later, export.export_map
            ),
        )
        for row in candidates.to_dicts()
    )


def _wanted(name: str, known: Sequence[str], replace: str | None, *, alone: bool) -> pl.Series:
    """Return which readings are of the file's name, or of the one that the owner gave."""
    form, *forms = fold_all([name, *known])
    if replace is None:
        return pl.Series([other == form for other in forms], dtype=pl.Boolean)
    [wanted] = fold_all([replace])
    if not alone and wanted != form:
        return pl.Series([False] * len(known), dtype=pl.Boolean)
    if wanted not in forms:
        raise UnknownName.among("file that was read by this map", replace, known)
    return pl.Series([other == wanted for other in forms], dtype=pl.Boolean)


def place_of(name: str, found: Sequence[Earlier], wish: Wish) -> Place:
    """Return what a file does to the earlier readings that were found.

    Raises ExportError where it is unclear and nobody says.
    """
    if wish.replace is not None:
        return Place(tuple(sorted(found, key=lambda one: -one.alike.pairs.height)[:1]))
    replaces = [one for one in found if one.alike.verdict == "replace"]
    beside = [one for one in found if one.alike.verdict == "add"]
    for one in found:
        if one.alike.verdict != "unclear":
            continue
        doubt = Doubt(name, one.name, one.alike.pairs.height, one.alike.later.height, one.alike.gone.height)
        answer = wish.settle(doubt) if wish.settle is not None else None
        if answer is None:
            raise ExportError(
                f"{doubt.what}; nothing was read",
                f"say `--replace {one.name}` to put it in the place of that reading, or `--add` to keep both.",
            )
        (replaces if answer == "replace" else beside).append(one)
    return Place(tuple(replaces), tuple(beside))


def refuse_two_versions(exports: Mapping[Path, MappedExport]) -> None:
    """Raise ExportError where two files of a run have one name and map, and one may be a version of the other."""
    of_sales = {path: one for path, one in exports.items() if one.export_map.holds == "sales"}
    for (path, one), (other_path, other) in combinations(of_sales.items(), 2):
        name, other_name = fold_all([path.name, other_path.name])
        if name != other_name or one.map_name != other.map_name or one.file.sha256 == other.file.sha256:
            continue
        verdicts = {
            compare_rows(rows_of(earlier), rows_of(later), one.export_map).verdict
            for earlier, later in ((one, other), (other, one))
        }
        if verdicts != {"add"}:
            raise ExportError(
                f"{path} and {other_path} may be two versions of one file; nothing was read",
                "name the one that counts, or say --add to read both.",
            )


def what_changed(earlier: Earlier) -> Replaced:
    """Return what a replacement changed."""
    alike = earlier.alike
    changed = alike.changed
    return Replaced(
        name=earlier.name,
        unchanged=alike.pairs.height - changed.height,
        changed=changed.height,
        fresh=alike.fresh.height,
        gone=alike.gone.height,
        examples=tuple(_changes(alike)),
    )


def _changes(alike: Alike) -> Iterator[Change]:
    for row in alike.gone.head(MOST_SHOWN).to_dicts():
        yield Change("gone", row["sheet"], row["row_number"], "", _said(row, alike), None)
    for row in alike.fresh.head(MOST_SHOWN).to_dicts():
        yield Change("new", row["sheet"], row["row_number"], "", None, _said(row, alike))
    changed = alike.changed.head(MOST_SHOWN)
    earlier = changed.join(alike.earlier, left_on="earlier", right_on="at", maintain_order="left").to_dicts()
    later = changed.join(alike.later, left_on="later", right_on="at", maintain_order="left").to_dicts()
    for before, after in zip(earlier, later, strict=True):
        for name, heading in alike.cells.items():
            if before[name] != after[name]:
                yield Change(
                    "changed", after["sheet"], after["row_number"], heading, before[name], after[name]
                )


def _said(row: Mapping[str, str | None], alike: Alike) -> str:
    """Return what a row says, cell by cell."""
    return ", ".join(cell for name in alike.cells if (cell := row[name]) is not None)


def moved_places(places: pl.DataFrame, place: Place, sha256: str) -> pl.DataFrame:
    """Return where rows stand (file_sha256, sheet, row_number, pair_number, row_key) once a file has taken its places.

    Rows of the readings that it replaces stand where they come again in it; those that do not stay where they were.
    """
    for one in place.replaces:
        was = one.alike.earlier.select("at", "sheet", "row_number")
        now = one.alike.later.select("at", new_sheet="sheet", new_number="row_number")
        moved = (
            one.alike.pairs.join(was, left_on="earlier", right_on="at")
            .join(now, left_on="later", right_on="at")
            .select("sheet", "row_number", "new_sheet", "new_number", file_sha256=pl.lit(one.file_sha256))
        )
        again = pl.col("new_sheet").is_not_null()
        places = places.join(moved, on=["file_sha256", "sheet", "row_number"], how="left").select(
            pl.when(again).then(pl.lit(sha256)).otherwise("file_sha256").alias("file_sha256"),
            pl.coalesce("new_sheet", "sheet").alias("sheet"),
            pl.coalesce("new_number", "row_number").alias("row_number"),
            "pair_number",
            "row_key",
        )
    return places
