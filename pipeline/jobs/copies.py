"""Copy the ledger with the market file beside it, and bring a copy back."""

import os
import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pipeline.errors import LedgerError
from pipeline.ledger.checks import Finding
from pipeline.ledger.copies import COPIES, Recovery, bring_back, copy_place, make_copy
from pipeline.ledger.copy_log import Copy


@dataclass(frozen=True)
class Backup:
    """A copy that was made, the copy of the market file beside it (None: there was none), what is not sound."""

    copy: Copy
    market: Path | None
    findings: tuple[Finding, ...]


def back_up(ledger_path: Path, market_path: Path, wanted: Path | None, *, made_at: datetime) -> Backup:
    """Copy the ledger and the market file; raises LedgerError as `make_copy` does."""
    target = copy_place(ledger_path, wanted, made_at)
    if wanted is None and ledger_path.is_file():
        _make_folder(ledger_path.parent / COPIES)
    copy, findings = make_copy(ledger_path, target, made_at=made_at)
    return Backup(copy, _copy_market(market_path, target.with_suffix(".toml")), findings)


def recover(copy_path: Path, ledger_path: Path, *, now: datetime) -> Recovery:
    """Bring a copy back in the ledger's place; raises LedgerError as `bring_back` does."""
    return bring_back(copy_path, ledger_path, now=now)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(exist_ok=True)
    except OSError as exc:
        raise LedgerError(
            f"{folder} cannot be made: {exc.strerror}; nothing was copied", "name a file for the copy."
        ) from exc


def _copy_market(market_path: Path, target: Path) -> Path | None:
    if not market_path.is_file() or target.exists():
        return None
    try:
        shutil.copyfile(market_path, target)
        with target.open("rb") as file:
            os.fsync(file.fileno())
    except OSError as exc:
        raise LedgerError(
            f"the ledger was copied, the market file was not: {target}: {exc.strerror}",
            f"copy {market_path} yourself.",
        ) from exc
    return target
