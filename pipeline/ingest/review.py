"""The owner's decisions: what looks alike or odd is listed, decided on, and the decision stored."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal, get_args

import polars as pl

from pipeline.alike import find_alike
from pipeline.config import Market
from pipeline.errors import DecisionError, UnknownName
from pipeline.ingest.put_right import DECISION_SCHEMA, keep_decisions
from pipeline.ingest.same import derive_sales
from pipeline.ledger import Ledger
from pipeline.schema import HOLDING_FLAGS, PRICE_FLAGS

DecisionKind = Literal["same sale", "different sales", "same pair", "era", "accept", "hold"]
DECISION_KINDS: tuple[str, ...] = get_args(DecisionKind)
OF_TWO = ("same sale", "different sales", "same pair")
Kept = Literal["new", "already", "already, noted"]
"""What came of a decision: kept, or kept before, or kept before and noted."""

_OPPOSED: dict[str, tuple[str, ...]] = {
    "same sale": ("different sales", "same pair"),
    "different sales": ("same sale",),
    "same pair": ("same sale",),
    "era": ("era", "correct"),
    "accept": ("hold",),
    "hold": ("accept",),
}
"""The kinds of decisions on the same records that cannot hold together; of two eras, and a corrected one, different
ones."""

_BETWEEN_NOTES = "; "


@dataclass(frozen=True)
class Decision:
    """What the owner says of one sale (era, accept, hold) or of two.

    same sale: merge them, whatever the exports say. different sales: list them no more. same pair: one
    physical pair, two sales. era: the sale is of the era `value`. accept: let it into the fit in spite of its
    flags; hold: keep it out.
    """

    kind: DecisionKind
    record_id: str
    other_id: str | None = None
    value: str | None = None
    note: str = ""


def near_matches(ledger: Ledger, *, start: int = 0, first: int | None = None) -> pl.DataFrame:
    """Return the pairs of sales that may be one, those decided on left out, the earliest first.

    At most `first` of them are returned, after the `start` that come before. Columns: left_id, right_id, why, title,
    venue, day and price of both, and matching Int64 (how many there are in all); one row a pair of sales.
    """
    return ledger.read("marts/near_matches", start=start, first=first)


def doubtful_sales(ledger: Ledger) -> pl.DataFrame:
    """Return the sales that await a decision by themselves, in the columns of sql/marts/doubtful_sales.sql."""
    return ledger.read(
        "marts/doubtful_sales", holding_flags=list(HOLDING_FLAGS), price_flags=list(PRICE_FLAGS)
    )


def held_sales(ledger: Ledger) -> pl.DataFrame:
    """Return the sales that are excluded from the fit pending review, one row a sale, with their flags."""
    return ledger.read("marts/held_sales")


def kept_decisions(ledger: Ledger) -> pl.DataFrame:
    """Return every decision with the records that it is about now, one row a decision."""
    return ledger.read("marts/ruling_list")


def rule(ledger: Ledger, market: Market, decision: Decision, *, ruled_at: datetime) -> Kept:
    """Keep a decision and derive the sales again, in one transaction; return what came of it (see `keep`)."""
    with ledger.transaction():
        kept = keep(ledger, market, decision, ruled_at=ruled_at)
        if kept == "new":
            derive_sales(ledger)
    return kept


def keep(ledger: Ledger, market: Market, decision: Decision, *, ruled_at: datetime) -> Kept:
    """Keep a decision, without deriving the sales again; return what came of it.

    A decision that is kept already stays as it is, and a new note is added to the notes on it. Raises UnknownName
    for a kind, a record or an era that is not known, DecisionError where it contradicts one that is kept: then
    nothing is changed.
    """
    if decision.kind not in DECISION_KINDS:
        raise UnknownName.among("kind of decision", decision.kind, DECISION_KINDS)
    if decision.kind == "era":
        era = find_alike(str(decision.value), market.era_by_name)
        if era is None:
            raise UnknownName.among("era", str(decision.value), market.era_by_name)
        decision = replace(decision, value=era)
    now = _records_now(ledger, decision)
    _refuse_contradiction(ledger, decision, now)
    same = _kept_already(ledger, decision, now)
    if same is not None:
        notes = [same["note"] or "", decision.note]
        if not decision.note or decision.note in notes[0].split(_BETWEEN_NOTES):
            return "already"
        ledger.run(
            "staging/note_ruling",
            ruling_id=same["ruling_id"],
            note=_BETWEEN_NOTES.join(filter(None, notes)),
        )
        return "already, noted"
    kept_as = {
        **vars(decision),
        "field": "era" if decision.kind == "era" else None,
        "ruled_at": ruled_at.replace(tzinfo=None),
        "step": 0,
    }
    keep_decisions(ledger, pl.DataFrame([kept_as], schema=DECISION_SCHEMA))
    return "new"


def withdraw(ledger: Ledger, decision: Decision) -> None:
    """Take the same decision back; raises DecisionError where there is no such decision."""
    known = ledger.read(
        "staging/known_keys", record_id=decision.record_id, other_id=decision.other_id or decision.record_id
    )
    eras = kept_decisions(ledger).filter(pl.col("kind") == "era")["value"].to_list()
    if decision.kind == "era":
        decision = replace(decision, value=find_alike(str(decision.value), eras) or decision.value)
    same = _kept_already(ledger, decision, dict(known.select("row_key", "record_id").rows()))
    if same is None:
        on = f"{decision.record_id} and {decision.other_id}" if decision.other_id else decision.record_id
        raise DecisionError(
            f"there is no decision {decision.kind!r} on {on}", "`pairband review` lists your decisions."
        )
    take_back(ledger, same["ruling_id"])


def take_back(ledger: Ledger, ruling_id: str) -> None:
    """Take a decision back and derive the sales again; raises UnknownName where there is no such decision."""
    known = kept_decisions(ledger)["ruling_id"].to_list()
    if ruling_id not in known:
        raise UnknownName.among("decision", ruling_id, known)
    with ledger.transaction():
        ledger.run("staging/forget_ruling", ruling_id=ruling_id)
        derive_sales(ledger)


def _records_now(ledger: Ledger, decision: Decision) -> dict[str, str]:
    """Return the record that each key of a decision is of now; raises UnknownName, DecisionError for one key twice."""
    keys = [decision.record_id] + ([decision.other_id or ""] if decision.kind in OF_TWO else [])
    if len(set(keys)) < len(keys):
        raise DecisionError(
            f"a decision {decision.kind!r} is on two records, and both are {keys[0]}", "name two."
        )
    known = ledger.read("staging/known_keys", record_id=keys[0], other_id=keys[-1])
    now = dict(known.select("row_key", "record_id").rows())
    for key in keys:
        if key not in now:
            raise UnknownName.among("record", key, (), "`pairband review` lists the records.")
    return now


def _about(record: str, other: str | None, now: Mapping[str, str]) -> tuple[str, ...]:
    """Return the records that a decision is about, in one order."""
    return tuple(sorted(now.get(key, key) for key in (record, other) if key is not None))


def _kept_already(ledger: Ledger, decision: Decision, now: Mapping[str, str]) -> dict[str, Any] | None:
    """Return the decision that says the same of the same keys, or of the same record, where one is kept."""
    keys = _about(decision.record_id, decision.other_id, {})
    for kept in ledger.read("staging/kept_rulings").to_dicts():
        said_alike = kept["kind"] == decision.kind and kept["value"] == decision.value
        of_it = _about(kept["record_id"], kept["other_id"], {}) == keys
        about_it = decision.kind not in OF_TWO and kept["record_now"] == now.get(decision.record_id)
        if said_alike and (of_it or about_it):
            return kept
    return None


def _refuse_contradiction(ledger: Ledger, decision: Decision, now: Mapping[str, str]) -> None:
    """Raise DecisionError where a decision that is kept on the same records says the opposite."""
    about = _about(decision.record_id, decision.other_id, now)
    for kept in ledger.read("staging/kept_rulings").to_dicts():
        opposed = kept["kind"] in _OPPOSED[decision.kind] and (
            decision.kind != "era" or (kept["field"] == "era" and kept["value"] != decision.value)
        )
        other = None if kept["kind"] == "correct" else kept["other_now"]
        if opposed and about == _about(kept["record_now"], other, {}):
            note = f", with the note {kept['note']!r}" if kept["note"] else ""
            era = f" --era {_word(kept['value'])}" if kept["kind"] == "era" else ""
            ids = " ".join(filter(None, (kept["record_id"], kept["other_id"])))
            said = f"{kept['kind']} {kept['value']}" if kept["value"] else kept["kind"]
            by_rule = f"pairband rule {_word(kept['kind'])} {ids}{era} --withdraw"
            way_back = by_rule if kept["kind"] in DECISION_KINDS else f"pairband undo {kept['ruling_id'][:8]}"
            raise DecisionError(
                f"{decision.kind!r} contradicts your decision {said!r} of {kept['ruled_at']:%Y-%m-%d}{note}; nothing "
                "was changed",
                f"take that one back first: `{way_back}`.",
            )


def _word(text: str) -> str:
    """Return a text as one word of a command line."""
    return f'"{text}"' if " " in text else text
