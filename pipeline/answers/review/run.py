"""What awaits the owner's decision, and the decisions kept."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, cast

import polars as pl

from pipeline.clock import day_of
from pipeline.config import load_market
from pipeline.csv_guard import guarded_csv, kept_apart, unguarded
from pipeline.errors import CorrectionError, PairError, UnknownName
from pipeline.ingest.decision_file import BroughtIn, bring_in, decision_rows, read_decisions
from pipeline.ingest.put_right import decisions, find_record, short_ids
from pipeline.ingest.readers.limits import LARGEST_FILE
from pipeline.ingest.review import (
    DECISION_KINDS,
    OF_TWO,
    Decision,
    DecisionKind,
    Kept,
    held_sales,
    near_matches,
    rule,
)
from pipeline.ingest.review import (
    withdraw as take_back,
)
from pipeline.ledger import open_ledger
from pipeline.plain_file import read_plain_file

_ANSWERS: dict[Kept, str] = {
    "new": "kept: {kind}. Run `pairband fit` to value by it.",
    "already": "already so: {kind}. Nothing was changed.",
    "already, noted": "already so: {kind}. Your note was added to it.",
}


@dataclass(frozen=True)
class Review:
    """Near-matches, sales excluded pending review, and decisions, each a list of rows.

    `short_ids` hold, for each id in these, as many of its first signs as tell it from all others.
    """

    near_matches: tuple[dict[str, Any], ...]
    excluded_sales: tuple[dict[str, Any], ...]
    decisions: tuple[dict[str, Any], ...]
    short_ids: dict[str, str]


def list_review(ledger_path: Path) -> Review:
    """Return what awaits a decision and what has been decided; does not write."""
    with open_ledger(ledger_path, read_only=True) as ledger:
        matches, held = near_matches(ledger), held_sales(ledger)
        kept = decisions(ledger)
        ids = [*matches["left_id"], *matches["right_id"], *held["record_id"], *keys_of_decisions(kept)]
        return Review(
            tuple(matches.to_dicts()),
            tuple(held.to_dicts()),
            tuple(kept.to_dicts()),
            short_ids(ledger, ids),
        )


def list_decisions(ledger_path: Path) -> Review:
    """Return all decisions, and nothing else of the review; does not write."""
    with open_ledger(ledger_path, read_only=True) as ledger:
        kept = decisions(ledger)
        return Review((), (), tuple(kept.to_dicts()), short_ids(ledger, keys_of_decisions(kept)))


def keys_of_decisions(kept: pl.DataFrame) -> list[str]:
    """Return the ids of all records that decisions name, and are about now."""
    named = pl.concat([kept[name] for name in ("row_key", "other_key", "record_id", "other_id")])
    return named.drop_nulls().unique(maintain_order=True).to_list()


def decisions_csv(ledger_path: Path) -> bytes:
    """Return all decisions as CSV that is safe to open in a spreadsheet and that `take_decisions` reads."""
    with open_ledger(ledger_path, read_only=True) as ledger:
        rows = decision_rows(ledger)
    return guarded_csv(rows.with_columns(kept_apart(pl.col(pl.String)).name.keep())).encode()


def take_decisions(ledger_path: Path, market_path: Path, file: Path, *, taken_at: datetime) -> BroughtIn:
    """Bring in decisions from a file that `decisions_csv` made (see `bring_in`).

    Raises CorrectionError where the file is no such list.
    """
    content = read_plain_file(file, "list of decisions", LARGEST_FILE, fault=CorrectionError)
    try:
        table = pl.read_csv(content, infer_schema=False)
    except (pl.exceptions.PolarsError, UnicodeDecodeError) as exc:
        raise CorrectionError(
            f"{file} is no list of decisions", "`pairband decisions --csv FILE` writes one."
        ) from exc
    rows = read_decisions(table.with_columns(unguarded(pl.all())), file.name)
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        return bring_in(ledger, market, rows, as_of=day_of(taken_at))


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

    Raises UnknownName for a kind, record or era that is not known, PairError where one is missing, DecisionError
    where the decision contradicts one that is kept or there is none to take back.
    """
    if kind not in DECISION_KINDS:
        raise UnknownName.among("kind of decision", kind, DECISION_KINDS)
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
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        key = find_record(ledger, record)[0]
        other_key = None if other is None else find_record(ledger, other)[0]
        decision = Decision(cast("DecisionKind", kind), key, other_key, era, note)
        if withdraw:
            take_back(ledger, decision)
            return f"taken back: {kind}. Run `pairband fit` to value by it."
        return _ANSWERS[rule(ledger, market, decision, ruled_at=decided_at)].format(kind=kind)
