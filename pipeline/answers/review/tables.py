"""What awaits the owner's decision, and the decisions so far."""

from collections.abc import Mapping
from typing import Any

from pipeline import formats
from pipeline.answers.review.run import Review
from pipeline.answers.sheet import Sheet, day, decimal, table, words

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
                [_side(match, side) for match in review.near_matches for side in ("left", "right")],
            ),
            table(
                "excluded",
                "Sales excluded from the fit pending review (`pairband rule era ID --era NAME`):",
                (*_SALE, words("why", "Why")),
                [
                    {
                        "record": sale["record_id"],
                        "day": sale["day"],
                        "sale": sale["title"],
                        "why": f"{', '.join(sale['flags'])} (era {sale['era']}, {sale['era_origin']}; "
                        f"stamp {sale['stamp_text']})",
                    }
                    for sale in review.excluded_sales
                ],
            ),
            table(
                "decisions",
                "Your decisions:",
                (
                    words("decision", "Decision"),
                    words("records", "Records"),
                    day("day", "Day"),
                    words("note", "Note"),
                ),
                [
                    {
                        "decision": " ".join(filter(None, (one["kind"], one["value"]))),
                        "records": " ".join(filter(None, (one["record_id"], one["other_id"]))),
                        "day": one["decided_at"].date(),
                        "note": one["note"] or None,
                    }
                    for one in review.decisions
                ],
            ),
        ),
    )


def _side(match: Mapping[str, Any], side: str) -> dict[str, Any]:
    return {
        "record": match[f"{side}_id"],
        "day": match[f"{side}_day"],
        "sale": f"{match[f'{side}_venue']}: {match[f'{side}_title']}",
        "price": match[f"{side}_price"],
        "why": match["why"] if side == "left" else "",
    }
