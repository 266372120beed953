"""Copy the ledger with the market file beside it, and bring a copy back."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from pipeline.errors import LedgerError
from pipeline.ledger.checks import Finding
from pipeline.ledger.copies import COPIES, Recovery, bring_back, copy_place, make_copy, market_beside
from pipeline.ledger.copy_log import Copy, known_copies
from pipeline.ledger.faults import translate_system_errors
from pipeline.ledger.files import (
    STAMP,
    copy_bytes,
    file_digest,
    free_name,
    part_beside,
    put_in_place,
    put_over,
)
from pipeline.plain_file import refuse_special

MarketState = Literal["brought back", "as it was", "none with the copy", "changed since"]


@dataclass(frozen=True)
class Backup:
    """A copy that was made, the copy of the market file beside it (None: there was none), what is not sound."""

    copy: Copy
    market_path: Path
    market: Path | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class MarketReturn:
    """What became of the market file when a copy was brought back, and where the one before it is.

    `beside` is the market file of the copy, or where it would be.
    """

    path: Path
    beside: Path
    state: MarketState
    replaced: Path | None = None


@dataclass(frozen=True)
class Return:
    """A ledger that was brought back, and its market file."""

    ledger: Recovery
    market: MarketReturn


def back_up(ledger_path: Path, market_path: Path, wanted: Path | None, *, made_at: datetime) -> Backup:
    """Copy the ledger and the market file; raises LedgerError as `make_copy` does."""
    with translate_system_errors(ledger_path):
        refuse_special(market_path, "market file", fault=LedgerError)
        target = copy_place(ledger_path, wanted, made_at)
        if wanted is None and ledger_path.is_file():
            _make_folder(ledger_path.parent / COPIES)
        there = market_path if market_path.exists() else None
    copy, findings = make_copy(ledger_path, target, made_at=made_at, market_path=there)
    return Backup(copy, market_path, None if there is None else market_beside(target), findings)


def recover(copy_path: Path, ledger_path: Path, market_path: Path, *, now: datetime) -> Return:
    """Bring a copy back in the ledger's place, and the market file that belongs to it.

    The ledger and the market file that are replaced are kept beside them. Raises LedgerError as `bring_back`
    does, and where the market file cannot be replaced.
    """
    refuse_special(market_path, "market file", fault=LedgerError)
    recovery = bring_back(copy_path, ledger_path, now=now)
    return Return(recovery, _bring_market_back(copy_path, ledger_path, market_path, now))


def _bring_market_back(copy_path: Path, ledger_path: Path, market_path: Path, now: datetime) -> MarketReturn:
    beside = market_beside(copy_path)
    if not beside.is_file():
        return MarketReturn(market_path, beside, "none with the copy")
    digest = file_digest(beside)[0]
    listed = [copy for copy in known_copies(ledger_path) if copy.path == copy_path.resolve()]
    if listed and listed[-1].market_sha256 != digest:
        return MarketReturn(market_path, beside, "changed since")
    place = market_path.resolve()
    if place.exists() and file_digest(place)[0] == digest:
        return MarketReturn(market_path, beside, "as it was")
    replaced = None
    with translate_system_errors(place):
        if place.exists():
            replaced = free_name(place, f"replaced-{now:{STAMP}}")
            with part_beside(replaced) as part:
                copy_bytes(place, part)
                put_in_place(part, replaced)
        with part_beside(place) as part:
            copy_bytes(beside, part)
            put_over(part, place)
    return MarketReturn(market_path, beside, "brought back", replaced)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(exist_ok=True)
    except OSError as exc:
        raise LedgerError(
            f"{folder} cannot be made: {exc.strerror}; nothing was copied", "name a file for the copy."
        ) from exc
