"""Copies of the ledger: made and proved, and brought back without losing what they take the place of."""

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import polars as pl

from pipeline.errors import LedgerError
from pipeline.ledger.checks import Finding, run_checks
from pipeline.ledger.copy_log import Copy, known_copies, note_copy
from pipeline.ledger.files import (
    alone_with,
    copy_bytes,
    file_digest,
    name_anew,
    part_beside,
    put_aside,
    put_in_place,
    sync_folder,
    wal_of,
)
from pipeline.ledger.ledger import Ledger, open_ledger

_STAMP = "%Y%m%d-%H%M%S"
COPIES = "copies"
"""The folder beside the ledger for copies that are given no place of their own."""


@dataclass(frozen=True)
class Recovery:
    """A copy that was brought back: the ledger, how many sales it holds, and where the replaced one lies."""

    ledger: Path
    copy: Path
    sales: int
    replaced: Path | None


def copy_place(ledger_path: Path, wanted: Path | None, made_at: datetime) -> Path:
    """Return where a copy goes: a file of that name, a dated one in that folder, or in `copies/`."""
    name = f"{ledger_path.stem}-{made_at:{_STAMP}}{ledger_path.suffix}"
    if wanted is None:
        return ledger_path.parent / COPIES / name
    return wanted / name if wanted.is_dir() else wanted


def make_copy(ledger_path: Path, target: Path, *, made_at: datetime) -> tuple[Copy, tuple[Finding, ...]]:
    """Copy the ledger to `target`, prove the copy, and list it; return it and what the checks found.

    The copy is read again from disk: its digest must be that of the ledger's bytes, and every table of it must
    hold what the ledger's holds. The ledger is not changed, and nobody can write to it meanwhile. Raises
    LedgerError where `target` is there already, cannot be written, or does not prove.
    """
    if target.exists() or target.is_symlink():
        raise LedgerError(f"{target} is there already; nothing was copied", "name another file.")
    if not target.parent.is_dir():
        raise LedgerError(f"there is no folder {target.parent} for the copy", "make it first.")
    with open_ledger(ledger_path, read_only=True, as_it_is=True) as ledger:
        held = _contents(ledger)
        with part_beside(target) as part:
            copy_bytes(ledger_path, part)
            if wal_of(part).exists():
                open_ledger(part, as_it_is=True).close()  # folds what was not yet in the file into it
            with open_ledger(part, read_only=True, as_it_is=True) as copied:
                _prove_alike(held, _contents(copied), target)
                findings = run_checks(copied) if copied.is_newest else ()
                told = copied.read("staging/row_counts").to_dicts()[0]
                digest = str(copied.read("marts/records_digest").item())
            sha256, size = file_digest(part)
            put_in_place(part, target)
    copy = Copy(target.resolve(), made_at, sha256, size, told["sales"], digest, not findings)
    note_copy(ledger_path, copy)
    return copy, findings


def bring_back(copy_path: Path, ledger_path: Path, *, now: datetime) -> Recovery:
    """Put a copy in the ledger's place, once it has been proved; the replaced ledger is kept beside it.

    At every moment a ledger lies in its place: the one before, or the one brought back. A copy of an earlier
    version is brought to the present one; the copy itself is not changed. Raises LedgerError where the copy is
    damaged, is not what was listed, breaks a check, or the ledger is in use.
    """
    if not copy_path.is_file():
        raise LedgerError(f"there is no copy {copy_path}", known_places(ledger_path))
    if ledger_path.exists() and copy_path.samefile(ledger_path):
        raise LedgerError(f"{copy_path} is the ledger itself", "name a copy of it.")
    if not ledger_path.parent.is_dir():
        raise LedgerError(f"there is no folder {ledger_path.parent} for the ledger", "make it first.")
    _refuse_changed(copy_path, ledger_path)
    ledger_path = ledger_path.resolve()
    with part_beside(ledger_path) as part:
        copy_bytes(copy_path, part)
        sales, findings = _prove_whole(part, copy_path, ledger_path)
        if findings:
            raise LedgerError(
                f"{copy_path} does not hold: {findings[0].check} ({findings[0].rows} rows, "
                f"first {findings[0].first}); nothing was changed",
                known_places(ledger_path),
            )
        if not ledger_path.exists():
            put_in_place(part, ledger_path)
            return Recovery(ledger_path, copy_path, sales, None)
        aside = name_anew(ledger_path, f"replaced-{now:{_STAMP}}")
        with alone_with(ledger_path):
            put_aside(ledger_path, aside)
            os.replace(part, ledger_path)
            sync_folder(ledger_path.parent)
    return Recovery(ledger_path, copy_path, sales, aside)


def known_places(ledger_path: Path) -> str:
    """Return a sentence that names the copies that are where they were put."""
    there = [str(copy.path) for copy in known_copies(ledger_path) if copy.is_there]
    return f"copies: {', '.join(there[::-1][:5])}." if there else "no copy of this ledger is known."


def _prove_whole(part: Path, copy_path: Path, ledger_path: Path) -> tuple[int, tuple[Finding, ...]]:
    """Return how many sales a copy holds and what its checks found, once it is of the present version."""
    try:
        with open_ledger(part) as brought:
            return int(brought.read("staging/row_counts")["sales"][0]), run_checks(brought)
    except LedgerError as exc:
        told = exc.what.replace(str(part), str(copy_path))
        raise LedgerError(f"{told}; nothing was changed", known_places(ledger_path)) from exc


def _contents(ledger: Ledger) -> pl.DataFrame:
    return ledger.read("staging/contents")


def _prove_alike(held: pl.DataFrame, copied: pl.DataFrame, target: Path) -> None:
    differing = held.join(copied, on=held.columns, how="anti")["relation"].to_list()
    if differing:
        raise LedgerError(
            f"the copy {target} does not hold what the ledger holds in {differing[0]}; it was not kept",
            "try another disk.",
        )


def _refuse_changed(copy_path: Path, ledger_path: Path) -> None:
    listed = [copy for copy in known_copies(ledger_path) if copy.path == copy_path.resolve()]
    if listed and file_digest(copy_path)[0] != listed[-1].sha256:
        raise LedgerError(
            f"{copy_path} is not what it was when it was made on {listed[-1].made_at:%Y-%m-%d}: "
            "it is damaged, or was changed since",
            known_places(ledger_path),
        )
