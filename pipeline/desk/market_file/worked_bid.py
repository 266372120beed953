"""What a venue's fees come to at a few prices: the same figures as in every answer, to the minor unit."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pipeline.config import Venue
from pipeline.fees import charge_of
from pipeline.fees.prices import Charge

USUAL = (Decimal(100), Decimal(500), Decimal(2000))
"""The hammer prices that are worked out where the owner names none."""


@dataclass(frozen=True)
class WorkedPrice:
    """A hammer price (or fixed price) in the venue's currency, and what buyer and seller pay on it.

    all_in = hammer + premium + tax, and net = hammer - seller_fee - seller_tax. The seller's three are None where no
    schedule of theirs is in force: nobody knows what the venue leaves them. A venue without a buyer's schedule takes
    nothing from buyers.
    """

    hammer: Decimal
    premium: Decimal
    tax: Decimal
    all_in: Decimal
    seller_fee: Decimal | None
    seller_tax: Decimal | None
    net: Decimal | None


def worked_prices(
    venue: Venue, hammers: Iterable[Decimal] = USUAL, *, as_of: date
) -> tuple[WorkedPrice, ...]:
    """Return what a venue takes of each hammer price by the schedules in force on a day."""
    return tuple(_worked(hammer, venue, as_of) for hammer in hammers)


def _worked(hammer: Decimal, venue: Venue, as_of: date) -> WorkedPrice:
    buyers, sellers = venue.schedule("buyer", as_of), venue.schedule("seller", as_of)
    paid = charge_of(hammer, buyers, venue.currency) if buyers else Charge(Decimal(0), Decimal(0))
    taken = charge_of(hammer, sellers, venue.currency) if sellers else None
    return WorkedPrice(
        hammer=hammer,
        premium=paid.fee,
        tax=paid.tax,
        all_in=hammer + sum(paid),
        seller_fee=taken.fee if taken else None,
        seller_tax=taken.tax if taken else None,
        net=hammer - sum(taken) if taken else None,
    )
