"""Price tickets: what a customer reads at the shelf of each pair, and nothing of what the house knows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

from pipeline.answers.consignment.answer import Consignment, VenueOffer
from pipeline.answers.consignment.tables import offer_at
from pipeline.config import Market
from pipeline.errors import PairError
from pipeline.ingest.lots import read_lots
from pipeline.market.shop_words import ShopWords


@dataclass(frozen=True)
class Price:
    """An asking price in a currency."""

    amount: Decimal
    currency: str


@dataclass(frozen=True)
class Ticket:
    """One ticket; without a price it has room to write one."""

    silhouette: str
    colourway: str
    words: ShopWords
    stock: str
    price: Price | None


def make_tickets(
    consignments: Sequence[Consignment],
    asks: Sequence[Price | None],
    market: Market,
    venue: str | None = None,
) -> tuple[Ticket, ...]:
    """Return a ticket for each pair, with its own price of `asks`, else the price suggested at a venue, rounded.

    The venue is the owner's shop, else the first at fixed prices, unless one is named. Raises UnknownName for a venue
    at which a pair is not offered, PairError for one that has no asking prices.
    """
    return tuple(
        Ticket(
            silhouette=one.pair.silhouette,
            colourway=one.pair.colourway or "",
            words=one.shop_words,
            stock=one.pair.label,
            price=ask or _suggested(one, market, venue),
        )
        for one, ask in zip(consignments, asks, strict=True)
    )


def asks_of_file(file: Path, market: Market, *, row: int | None, as_of: date) -> tuple[Price | None, ...]:
    """Return the asking price that a stock list gives each of its pairs (`ask_native`), or that of one row.

    An ask without a currency is none. Raises MapError for a list of lots, whose `ask_native` is an auction's low
    estimate.
    """
    pairs = read_lots(file, market, as_of=as_of, holds=("stock",))[0].select("ask_native", "ask_currency")
    asks = tuple(
        None if ask is None or currency is None else Price(Decimal(ask), currency)
        for ask, currency in pairs.iter_rows()
    )
    return asks if row is None else asks[row - 1 : row]


def _suggested(consignment: Consignment, market: Market, venue: str | None) -> Price | None:
    offer = _shelf(consignment) if venue is None else offer_at(consignment, venue)
    ask = next((line for line in offer.suggestions if line.name == "ask"), None) if offer else None
    if ask is None and venue is not None:
        raise PairError(f"{venue} sells by auction: it has no asking price", "name a shop for the tickets.")
    if ask is None:
        return None
    step = market.tickets.round_to
    rounded = (ask.amount / step).to_integral_value(ROUND_HALF_UP) * step
    return Price(max(rounded, step), ask.currency)


def _shelf(consignment: Consignment) -> VenueOffer | None:
    fixed = [offer for offer in consignment.offers if offer.kind != "auction"]
    return min(fixed, key=lambda offer: offer.kind != "shop", default=None)
