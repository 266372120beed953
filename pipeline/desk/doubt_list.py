"""What awaits the owner's decision, as a list: sales that may be one, sales excluded from the fit, odd prices."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal
from urllib.parse import urlencode

if TYPE_CHECKING:
    from pipeline.ledger import Ledger

Kind = Literal["same", "excluded", "price"]

TITLES: dict[Kind, str] = {
    "same": "Sales that may be one",
    "excluded": "Excluded from the fit",
    "price": "Suspicious prices",
}
BETWEEN = "-"


@dataclass(frozen=True)
class Doubt:
    """One doubt: its kind, the one record or the two that it is about, and why it is one."""

    kind: Kind
    record_ids: tuple[str, ...]
    why: str

    @property
    def key(self) -> str:
        """What an address calls it."""
        return BETWEEN.join(self.record_ids)


def list_doubts(ledger: "Ledger") -> tuple[Doubt, ...]:
    """Return all that awaits a decision, by kind, each kind in the order of days."""
    from pipeline.ingest.review import doubtful_sales, near_matches

    pairs = near_matches(ledger).select("left_id", "right_id", "why")
    single = doubtful_sales(ledger).select("kind", "record_id", "why")
    return (
        *(Doubt("same", (left, right), why) for left, right, why in pairs.rows()),
        *(Doubt(kind, (record_id,), why) for kind, record_id, why in single.rows()),
    )


def place_of(doubts: Sequence[Doubt], key: str) -> int:
    """Return where the doubt of that key stands; 0, the first, where it is settled or there is none."""
    return next((at for at, doubt in enumerate(doubts) if doubt.key == key), 0)


def address(kind: str, key: str = "") -> str:
    """Return the address of a doubt among those of a kind."""
    query = urlencode({name: value for name, value in (("kind", kind), ("at", key)) if value})
    return f"/doubts?{query}" if query else "/doubts"
