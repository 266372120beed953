"""What became of a record that was put right, field by field."""

from pipeline.answers.sheet import NONE, Column, Sheet, Table, table
from pipeline.answers.understood.tables import field_title
from pipeline.ingest.put_right import PutRight
from pipeline.untrusted import show_words

MOST_VALUE = 60


def corrected_sheet(found: PutRight) -> Sheet:
    """Return the sheet of a record that was corrected: each field before and after, and what followed."""
    same = [field_title(one.field) for one in found.changes if not one.follows and one.before == one.after]
    return Sheet(
        title=f"Corrected: {found.record_id} {show_words(found.title, MOST_VALUE)}".strip(),
        sentences=(
            *((f"As it was before: {', '.join(same)}.",) if same else ()),
            *((f"In all {found.rows} rows that record this sale.",) if found.rows > 1 else ()),
        ),
        tables=(_changes(found),),
        source="`pairband undo --last` takes it back; `pairband fit` values by it.",
    )


def added_sheet(found: PutRight) -> Sheet:
    """Return the sheet of a sale that was added by hand: what was read of it."""
    known = (
        f"Another row records this sale as well ({found.rows} in all): it counts once."
        if found.rows > 1
        else "No other row records this sale."
    )
    return Sheet(
        title=f"Added: {found.record_id} {show_words(found.title, MOST_VALUE)}".strip(),
        sentences=(known,),
        tables=(_changes(found),),
        source="`pairband undo --last` takes it back; `pairband fit` values by it.",
    )


def _changes(found: PutRight) -> Table:
    return table(
        "changes",
        "Field by field",
        (
            Column("field", "Field", field_title),
            Column("before", "Before", _value),
            Column("after", "After", _value),
            Column("follows", "", lambda follows: "follows" if follows else ""),
        ),
        [vars(one) for one in found.changes],
    )


def _value(text: str) -> str:
    return show_words(text, MOST_VALUE) or NONE
