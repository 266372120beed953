"""One awkward export: its bytes, how it is mapped, and what is to come of it."""

from dataclasses import dataclass, field
from typing import Any

from pipeline.config import ExportMap

COLUMNS = {"lot_ref": "lot", "title": "title", "closed_on": "date", "price_native": "price"}
"""The columns of a case unless it says otherwise."""


@dataclass(frozen=True)
class Case:
    """An export and its expected ledger.

    `says` is the case as a statement; `content` the bytes of the file `file`. `mapped` overrides keys of the
    plain map (a venue in euros, all-in prices, ISO days, decimal points). `sales` holds, in the order of the
    rows, some columns of each expected sale, as text. `quarantine` holds (row, field, part of the reason),
    `unread` (row, field), `notes` parts of the notes. `error` and `match` are set where the file is refused.
    """

    says: str
    file: str
    content: bytes
    mapped: dict[str, Any] = field(default_factory=dict)
    sales: tuple[dict[str, str | None], ...] = ()
    quarantine: tuple[tuple[int, str, str], ...] = ()
    unread: tuple[tuple[int, str], ...] = ()
    notes: tuple[str, ...] = ()
    error: str = ""
    match: str = ""

    def export_map(self) -> ExportMap:
        """Return the map of the case."""
        plain: dict[str, Any] = {
            "venue": "Holm Sound Auctions",
            "files": self.file,
            "currency": "EUR",
            "price_basis": "all-in",
            "columns": COLUMNS,
        }
        return ExportMap.model_validate(plain | self.mapped)
