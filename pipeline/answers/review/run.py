"""What awaits the owner's decision, and the decisions kept."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, cast

from pipeline.config import load_market
from pipeline.errors import PairError, UnknownName
from pipeline.ingest.review import (
    OF_TWO,
    RULING_KINDS,
    Kept,
    Ruling,
    RulingKind,
    held_sales,
    near_matches,
    rule,
    rulings,
)
from pipeline.ingest.review import (
    withdraw as take_back,
)
from pipeline.ledger import open_ledger

_ANSWERS: dict[Kept, str] = {
    "new": "kept: {kind}. Run `pairband fit` to value by it.",
    "already": "already so: {kind}. Nothing was changed.",
    "already, noted": "already so: {kind}. Your note was added to it.",
}


@dataclass(frozen=True)
class Review:
    """Near-matches, sales excluded pending review, and decisions, each a list of rows."""

    near_matches: tuple[dict[str, Any], ...]
    excluded_sales: tuple[dict[str, Any], ...]
    decisions: tuple[dict[str, Any], ...]


def list_review(ledger_path: Path) -> Review:
    """Return what awaits a decision and what has been decided; does not write."""
    with open_ledger(ledger_path, read_only=True) as ledger:
        return Review(
            tuple(near_matches(ledger).to_dicts()),
            tuple(held_sales(ledger).to_dicts()),
            tuple(rulings(ledger).rename({"ruling_id": "decision_id", "ruled_at": "decided_at"}).to_dicts()),
        )


def keep_decision(
    ledger_path: Path,
    market_path: Path,
    kind: str,
    record: str,
    other: str | None,
    *,
    era: str | None,
    note: str,
    withdraw: bool,
    decided_at: datetime,
) -> str:
    """Keep a decision, or take it back; return a sentence that says so.

    Raises UnknownName for a kind, record or era that is not known, PairError where one is missing, RulingError
    where the decision contradicts one that is kept or there is none to take back.
    """
    if kind not in RULING_KINDS:
        raise UnknownName.among("kind of decision", kind, RULING_KINDS)
    if (kind in OF_TWO) != (other is not None):
        raise PairError(
            f"a decision {kind!r} is on {'two records' if kind in OF_TWO else 'one record'}",
            "name just those.",
        )
    if (kind == "era") != (era is not None):
        raise PairError(
            f"a decision {kind!r} takes {'an era' if kind == 'era' else 'no era'}",
            "see `pairband rule --help`.",
        )
    decision = Ruling(cast("RulingKind", kind), record, other, era, note)
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        if withdraw:
            take_back(ledger, decision)
            return f"taken back: {kind}. Run `pairband fit` to value by it."
        return _ANSWERS[rule(ledger, market, decision, ruled_at=decided_at)].format(kind=kind)
