"""The owner's rulings: what looks alike or odd is listed, ruled on, and the ruling kept."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

import polars as pl

from pipeline.config import Market
from pipeline.errors import UnknownName
from pipeline.ingest.same import derive_sales
from pipeline.ledger import Ledger
from pipeline.schema import FLAGS

RulingKind = Literal["same sale", "different sales", "same pair", "era", "accept", "hold"]
RULING_KINDS: tuple[str, ...] = get_args(RulingKind)
_OF_TWO = ("same sale", "different sales", "same pair")


@dataclass(frozen=True)
class Ruling:
    """What the owner says of one sale (era, accept, hold) or of two.

    same sale: merge them, whatever the exports say. different sales: list them no more. same pair: one
    physical pair, two sales. era: the sale is of the era `value`. accept: let it into the fit in spite of its
    flags; hold: keep it out.
    """

    kind: RulingKind
    record_id: str
    other_id: str | None = None
    value: str | None = None
    note: str = ""

    @property
    def ruling_id(self) -> str:
        """The ruling's own key: the same ruling twice is one."""
        ids = sorted(filter(None, (self.record_id, self.other_id)))
        return hashlib.sha256("\x1f".join((self.kind, *ids, self.value or "")).encode()).hexdigest()[:16]


def near_matches(ledger: Ledger) -> pl.DataFrame:
    """Return the pairs of sales that may be one, those ruled on left out.

    Columns: left_id, right_id, why, and title, venue, day and price of both; one row a pair of sales.
    """
    return ledger.read("marts/near_matches")


def held_sales(ledger: Ledger) -> pl.DataFrame:
    """Return the sales kept out of the fit until the owner rules, one row a sale, with their flags."""
    return ledger.read("marts/held_sales")


def rulings(ledger: Ledger) -> pl.DataFrame:
    """Return every ruling with the records that it is about now, one row a ruling."""
    return ledger.read("marts/ruling_list")


def rule(ledger: Ledger, market: Market, ruling: Ruling, *, ruled_at: datetime) -> None:
    """Keep a ruling and derive the sales anew, in one transaction.

    Raises UnknownName for a kind, a record or an era that is not known.
    """
    if ruling.kind not in RULING_KINDS:
        raise UnknownName.among("kind of ruling", ruling.kind, RULING_KINDS)
    if ruling.kind == "era" and ruling.value not in market.era_by_name:
        raise UnknownName.among("era", str(ruling.value), market.era_by_name)
    named = [ruling.record_id] + ([ruling.other_id or ""] if ruling.kind in _OF_TWO else [])
    known = ledger.read(
        "staging/known_keys", record_id=ruling.record_id, other_id=ruling.other_id or ruling.record_id
    )["row_key"].to_list()
    for record_id in named:
        if record_id not in known:
            raise UnknownName.among("record", record_id, (), "`pairband review` lists the records.")
    with ledger.transaction():
        ledger.run(
            "staging/rulings",
            ruling_id=ruling.ruling_id,
            kind=ruling.kind,
            record_id=ruling.record_id,
            other_id=ruling.other_id,
            field="era" if ruling.kind == "era" else None,
            value=ruling.value,
            note=ruling.note,
            ruled_at=ruled_at.replace(tzinfo=None),
        )
        derive_sales(ledger)


def take_back(ledger: Ledger, ruling_id: str) -> None:
    """Take a ruling back and derive the sales anew; raises UnknownName where there is no such ruling."""
    known = rulings(ledger)["ruling_id"].to_list()
    if ruling_id not in known:
        raise UnknownName.among("ruling", ruling_id, known)
    with ledger.transaction():
        ledger.run("staging/forget_ruling", ruling_id=ruling_id)
        derive_sales(ledger)


def flag_prices(ledger: Ledger, flags: pl.DataFrame) -> None:
    """Put the price flags of a fit in the place of those before, and derive the sales anew.

    `flags` holds record_id String and flag String (one of FLAGS); a sale may have several. Raises
    UnknownName for a flag that is not known.
    """
    for flag in flags["flag"].unique().to_list():
        if flag not in FLAGS:
            raise UnknownName.among("flag", flag, FLAGS)
    with ledger.transaction():
        ledger.run("marts/forget_price_flags")
        ledger.write("marts/price_flags", flags)
        derive_sales(ledger)
