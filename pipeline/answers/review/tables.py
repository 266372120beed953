"""What awaits the owner's decision, and the decisions so far."""

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline import formats
from pipeline.answers.review.run import Review
from pipeline.answers.sheet import NONE, Column, Sheet, Table, day, decimal, table, words
from pipeline.answers.understood.tables import field_title
from pipeline.ingest.decision_file import BroughtIn
from pipeline.ingest.review import OF_TWO
from pipeline.untrusted import show_words

MOST_NOTE = 80
GONE = "its row is gone"
_SALE = (words("record", "Record"), day("day", "Day"), words("sale", "Sale"))


def review_sheet(review: Review) -> Sheet:
    """Return the sheet of what awaits a decision, and of the decisions so far."""
    return Sheet(
        title="Review",
        figures=(
            ("Pairs of sales that may be one", formats.count(len(review.near_matches))),
            ("Sales excluded pending review", formats.count(len(review.excluded_sales))),
            ("Decisions so far", formats.count(len(review.decisions))),
        ),
        tables=(
            table(
                "near_matches",
                'Sales that may be one, two rows each (`pairband rule "same sale" ID ID`):',
                (*_SALE, decimal("price", "Price", 2), words("why", "Why")),
                [
                    _side(match, side, review.short_ids)
                    for match in review.near_matches
                    for side in ("left", "right")
                ],
            ).marked(cut=("sale", "why")),
            table(
                "excluded",
                "Sales excluded from the fit pending review (`pairband rule era ID --era NAME`):",
                (*_SALE, words("era", "Era"), words("stamp", "Stamp"), words("flags", "Why")),
                [
                    {
                        "record": review.short_ids[sale["record_id"]],
                        "day": sale["day"],
                        "sale": sale["title"],
                        "era": f"{sale['era']} ({sale['era_origin']})",
                        "stamp": sale["stamp_text"],
                        "flags": ", ".join(sale["flags"]),
                    }
                    for sale in review.excluded_sales
                ],
            ).marked(detail=("flags",), cut=("sale",)),
            decisions_table(review.decisions, review.short_ids).marked(cut=("what", "note")),
        ),
    )


def decisions_sheet(review: Review) -> Sheet:
    """Return the list of all decisions."""
    return Sheet(
        title=formats.counted(len(review.decisions), "decision"),
        tables=(decisions_table(review.decisions, review.short_ids).marked(cut=("what", "note")),),
        source="`pairband undo DECISION` takes one back; `pairband decisions --csv FILE` writes them to a file.",
    )


def brought_in_sheet(found: BroughtIn) -> Sheet:
    """Return what came of decisions that were brought in."""
    return Sheet(
        title=f"{formats.counted(found.new, 'decision')} brought in",
        sentences=(f"Kept before: {formats.count(found.already)}.",) if found.already else (),
        tables=(
            table(
                "lost",
                "Not brought in",
                (
                    words("number", "Number"),
                    words("kind", "Decision"),
                    words("record", "Record"),
                    words("why", "Why"),
                ),
                [vars(one) for one in found.lost],
            ),
        ),
        source="`pairband fit` values by them.",
    )


def decisions_table(decisions: Sequence[Mapping[str, Any]], short_ids: Mapping[str, str]) -> Table:
    """Return one row a decision of the owner."""
    return table(
        "decisions",
        "Your decisions:",
        (
            Column("decision_id", "Decision", lambda decision_id: decision_id[:8]),
            Column("what", "What", describe=decision_words),
            Column("records", "Records", describe=lambda row: _records(row, short_ids)),
            Column("decided_at", "Day", lambda at: formats.day(at.date())),
            Column("note", "Note", lambda note: show_words(note, MOST_NOTE) or NONE),
        ),
        decisions,
    )


def decision_words(row: Mapping[str, Any]) -> str:
    """Return what a decision says, in words."""
    value = show_words(row["value"] or "", MOST_NOTE)
    if row["kind"] == "correct":
        return f"{field_title(row['field'])} is {value or 'not known'}"
    if row["kind"] == "remove" and row["field"] == "file":
        return f"remove the file {value}"
    if row["kind"] == "add":
        return "add by hand"
    return f"{row['kind']} {value}".strip()


def _records(row: Mapping[str, Any], short_ids: Mapping[str, str]) -> str:
    """Return the records that a decision is about: of one on two, each as it was named."""
    if row["kind"] == "remove" and row["field"] == "file":
        return NONE if row["record_id"] else GONE
    if row["record_id"] is None or (row["kind"] in OF_TWO and row["other_id"] is None):
        return GONE
    keys = (row["row_key"], row["other_key"]) if row["kind"] in OF_TWO else (row["record_id"],)
    return " ".join(short_ids[key] for key in keys)


def _side(match: Mapping[str, Any], side: str, short_ids: Mapping[str, str]) -> dict[str, Any]:
    return {
        "record": short_ids[match[f"{side}_id"]],
        "day": match[f"{side}_day"],
        "sale": f"{match[f'{side}_venue']}: {match[f'{side}_title']}",
        "price": match[f"{side}_price"],
        "why": match["why"] if side == "left" else "",
    }
