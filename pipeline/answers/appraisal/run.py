"""Value pairs with the latest fit."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.config import Market
from pipeline.errors import PairError
from pipeline.market.pair import Pair
from pipeline.market.subject import Description, override, pairs_of_records, understand
from pipeline.pictures.album import Album
from pipeline.workspace import Workspace


def appraise_descriptions(
    workspace: Workspace, descriptions: Sequence[Description], *, as_of: date, as_written: bool = False
) -> tuple[Appraisal, ...]:
    """Value pairs that the owner describes in words."""
    pairs = [pair_of(workspace, described, as_written=as_written) for described in descriptions]
    return appraise_pairs(workspace, pairs, as_of=as_of)


def pair_of(workspace: Workspace, described: Description, *, as_written: bool) -> Pair:
    """Return the pair that the owner's words describe (see `understand`), read once for all answers on it."""
    return workspace.once(
        ("pair", described, as_written),
        lambda: understand(described, workspace.market, as_written=as_written),
    )


def appraise_file(
    workspace: Workspace,
    file: Path,
    *,
    row: int | None,
    as_of: date,
    described: Description | None = None,
) -> tuple[Appraisal, ...]:
    """Value the pairs of a file (see `pairs_of_file`), or one row of it."""
    pairs = pairs_of_file(file, workspace.market, row=row, as_of=as_of, described=described)
    return appraise_pairs(workspace, pairs, as_of=as_of)


def pairs_of_file(
    file: Path, market: Market, *, row: int | None, as_of: date, described: Description | None = None
) -> tuple[Pair, ...]:
    """Return the pairs of a file (an export map with `holds` stock or lots), or that of one row, counted from 1.

    What is `described` besides goes before what the file says, and each pair says so (`Pair.read_as`). Raises
    PairError where a row cannot be read, where there is no such row, or for a word that means nothing.
    """
    records = records_of_file(file, market, row=row, as_of=as_of)
    pairs = pairs_of_records(records)
    return pairs if described is None else tuple(override(pair, described, market) for pair in pairs)


def album_of(
    workspace: Workspace, pairs: Sequence[Pair], *, file: Path | None, row: int | None, as_of: date
) -> Album:
    """Return the owner's photographs for these pairs; of one `row` of a file, all numbers of the file are known."""
    listed = pairs
    if file is not None and row is not None and workspace.market.pictures.folder is not None:
        listed = (*pairs, *pairs_of_file(file, workspace.market, row=None, as_of=as_of))
    return workspace.album(pair.label for pair in listed)


def records_of_file(file: Path, market: Market, *, row: int | None, as_of: date) -> pl.DataFrame:
    """Return the rows of a file of pairs (see `read_lots`), or that one of them, counted from 1.

    Raises PairError where a row cannot be read, or where there is no such row.
    """
    records, _ = read_pairs(file, market, as_of=as_of)
    if row is None:
        return records
    if row > records.height:
        raise PairError(f"{file} has {records.height} pairs; there is no row {row}", "rows count from 1.")
    return records[row - 1 : row]


def read_pairs(file: Path, market: Market, *, as_of: date) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """Return the rows of a file of pairs and what is to be said of the file (see `read_lots`).

    Raises PairError where a row cannot be read.
    """
    from pipeline.ingest.lots import read_lots

    records, refused, notes = read_lots(file, market, as_of=as_of)
    if refused.height:
        first = refused.row(0, named=True)
        raise PairError(
            f"{file}: row {first['row_number']}: {first['field']} {first['value']!r}: {first['reason']}"
            + (f" (and {refused.height - 1} more rows)" if refused.height > 1 else ""),
            "correct the row or the map.",
        )
    return records, notes


def appraise_pairs(workspace: Workspace, pairs: Sequence[Pair], *, as_of: date) -> tuple[Appraisal, ...]:
    """Value pairs with the latest fit."""
    fitted, stale = workspace.fitted, workspace.stale
    return tuple(
        appraise(
            pair, fitted, workspace.market, workspace.sales_of(pair.silhouette), as_of=as_of, stale=stale
        )
        for pair in pairs
    )
