"""Copies of the ledger: made and proved, and brought back without losing what they take the place of."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pipeline.errors import LedgerError
from pipeline.ledger.checks import Finding, run_checks
from pipeline.ledger.copy_log import Copy, known_copies, note_copy, refuse_log
from pipeline.ledger.faults import refuse_name, translate_system_errors
from pipeline.ledger.files import (
    STAMP,
    copy_bytes,
    file_digest,
    finish_replacing,
    logs_of,
    part_beside,
    put_in_place,
    put_over,
    replace_ledger,
)
from pipeline.ledger.ledger import open_ledger
from pipeline.ledger.rewriting import rewritten
from pipeline.ledger.sharing import alone_in_process
from pipeline.plain_file import refuse_special

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
    name = f"{ledger_path.stem}-{made_at:{STAMP}}{ledger_path.suffix}"
    if wanted is None:
        return ledger_path.parent / COPIES / name
    return wanted / name if wanted.is_dir() else wanted


def market_beside(copy_path: Path) -> Path:
    """Return where the market file of a copy lies: beside it, under a name bound to the copy's own."""
    return copy_path.with_name(copy_path.name + ".market.toml")


def make_copy(
    ledger_path: Path, target: Path, *, made_at: datetime, market_path: Path | None = None
) -> tuple[Copy, tuple[Finding, ...]]:
    """Copy the ledger to `target`, prove the copy, and list it; return it and what the checks found.

    The copy is rewritten: what was removed from the ledger is not in it. It is read again from disk, and
    every table of it must hold what the ledger's holds. The market file, where one is given, is put beside it
    first. The ledger is not changed, and nobody can write to it meanwhile. Raises LedgerError where `target`
    is there already, cannot be written, or does not prove.
    """
    refuse_name(target, "the copy")
    refuse_log(ledger_path)
    with translate_system_errors(target):
        for place in (target, *([] if market_path is None else [market_beside(target)])):
            if place.exists() or place.is_symlink():
                raise LedgerError(f"{place} is there already; nothing was copied", "name another file.")
        if not target.parent.is_dir():
            raise LedgerError(f"there is no folder {target.parent} for the copy", "make it first.")
    with part_beside(target) as part:
        with rewritten(ledger_path, part) as copied:
            findings = run_checks(copied) if copied.is_newest else ()
            counts = copied.read("staging/row_counts").to_dicts()[0]
            digest = str(copied.read("marts/records_digest").item())
        sha256, size = file_digest(part)
        market = None if market_path is None else _copy_market(market_path, market_beside(target))
        try:
            put_in_place(part, target)
        except LedgerError:
            if market is not None:
                market_beside(target).unlink()
            raise
    copy = Copy(target.resolve(), made_at, sha256, size, counts["sales"], digest, not findings, market)
    note_copy(ledger_path, copy)
    return copy, findings


def _copy_market(market_path: Path, target: Path) -> str:
    """Copy a market file under a new name; return its digest."""
    with part_beside(target) as part:
        copy_bytes(market_path, part)
        put_in_place(part, target)
    return file_digest(target)[0]


def bring_back(copy_path: Path, ledger_path: Path, *, now: datetime) -> Recovery:
    """Put a copy in the ledger's place, once it has been proved; the replaced ledger is kept beside it.

    At every moment a ledger lies in its place: the one before with its log, or the one brought back. A copy
    of an earlier version is brought to the present one; the copy itself is not changed. Raises LedgerError
    where the copy is damaged, is not what was listed, breaks a check, or the ledger is in use.
    """
    refuse_name(copy_path, "the copy")
    refuse_name(ledger_path, "the ledger")
    with translate_system_errors(copy_path):
        refuse_special(copy_path, "copy", fault=LedgerError)
        if not copy_path.exists():
            raise LedgerError(f"there is no copy {copy_path}", known_places(ledger_path))
    with translate_system_errors(ledger_path):
        refuse_special(ledger_path, "ledger", fault=LedgerError)
        if ledger_path.exists() and copy_path.samefile(ledger_path):
            raise LedgerError(f"{copy_path} is the ledger itself", "name a copy of it.")
        if not ledger_path.parent.is_dir():
            raise LedgerError(f"there is no folder {ledger_path.parent} for the ledger", "make it first.")
    _refuse_changed(copy_path, ledger_path)
    ledger_path = ledger_path.resolve()
    with alone_in_process(ledger_path), part_beside(ledger_path) as part:
        finish_replacing(ledger_path)
        copy_bytes(copy_path, part)
        sales, findings = _prove_whole(part, copy_path, ledger_path)
        if findings:
            raise LedgerError(
                f"{copy_path} does not hold: {findings[0].check} ({findings[0].rows} rows, "
                f"first {findings[0].first}); nothing was changed",
                known_places(ledger_path),
            )
        replaced = replace_ledger(ledger_path, part, now=now)
    return Recovery(ledger_path, copy_path, sales, replaced)


@dataclass(frozen=True)
class Compaction:
    """A ledger that was rewritten: its size before and after, and the files that still hold what it held."""

    ledger: Path
    bytes_before: int
    bytes_after: int
    older: tuple[Path, ...]


def compact(ledger_path: Path) -> Compaction:
    """Rewrite the ledger with only what it holds, and put that in its place once it is proved.

    At every moment the ledger lies whole in its place: as it was, or compact. Raises LedgerError where it is
    in use, or the new file does not prove.
    """
    with alone_in_process(ledger_path):
        with open_ledger(ledger_path) as ledger:  # puts into the file what its log holds
            file = ledger.file
        before = file.stat().st_size
        with part_beside(file) as part, rewritten(ledger_path, part):
            if any(log.exists() for log in logs_of(file)):
                raise LedgerError(
                    f"{ledger_path} was written to by another process; nothing was changed", "run again."
                )
            put_over(part, file)
    return Compaction(ledger_path, before, file.stat().st_size, _older(ledger_path, file))


def _older(ledger_path: Path, file: Path) -> tuple[Path, ...]:
    """Return the copies of a ledger and the ledgers that it replaced, as far as they are known to be there."""
    copies = {copy.path for copy in known_copies(ledger_path) if copy.is_there}
    replaced = {path for path in file.parent.iterdir() if path.name.startswith(f"{file.stem}.replaced-")}
    return tuple(sorted(copies | replaced))


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
        what = exc.what.replace(str(part), str(copy_path))
        raise LedgerError(f"{what}; nothing was changed", known_places(ledger_path)) from exc


def _refuse_changed(copy_path: Path, ledger_path: Path) -> None:
    listed = [copy for copy in known_copies(ledger_path) if copy.path == copy_path.resolve()]
    if listed and file_digest(copy_path)[0] != listed[-1].sha256:
        raise LedgerError(
            f"{copy_path} is not what it was when it was made on {listed[-1].made_at:%Y-%m-%d}: "
            "it is damaged, or was changed since",
            known_places(ledger_path),
        )
