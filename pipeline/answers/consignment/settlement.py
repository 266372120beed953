"""The settlement of a consignment at a price: every charge in words and money, and what is left to the consignor."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pipeline.answers.consignment.price_split import commission_on, divide_hammer, to_base
from pipeline.config import FeeSchedule, Market, Venue
from pipeline.fees.prices import charge_of
from pipeline.fees.words import percent_words, schedule_words
from pipeline.phrases.phrases import Phrases, Sentence, Value


@dataclass(frozen=True)
class Deduction:
    """One line that is taken off a price: what it is, in words, and how much (base currency, minor unit)."""

    what: str
    amount: Decimal


@dataclass(frozen=True)
class Settlement:
    """What becomes of one price at a venue: price = the deductions + to_consignor, always, in the base currency.

    `name` is that of the suggested price, `price_native` the price in the venue's currency.
    """

    name: str
    price_native: Decimal
    price: Decimal
    deductions: tuple[Deduction, ...]
    to_consignor: Decimal


def settle(name: str, price: Decimal, venue: Venue, market: Market, *, rate: float, on: date) -> Settlement:
    """Return the settlement of a hammer price (or fixed price), in the venue's currency, on a day.

    The lines are those of `divide_price`, taken apart: `rate` is units of the venue's currency for one of the base.
    """
    split = divide_hammer(price, venue, market, rate=rate, on=on)
    base = market.base_currency
    own = venue.kind == "shop"
    charged = split.commission + split.commission_tax if own else split.venue_fee
    lines = [
        *_lines(
            "" if own else venue.name,
            venue.schedule("seller", on),
            price,
            venue.currency,
            charged,
            market,
            rate,
        )
    ]
    if not own:
        taken = split.commission + split.commission_tax
        lines += _lines("", commission_on(market, on), split.hammer, base, taken, market, 1.0)
    return Settlement(name, price, split.hammer, tuple(lines), split.to_consignor)


def _lines(
    whose: str,
    schedule: FeeSchedule | None,
    price: Decimal,
    currency: str,
    charged: Decimal,
    market: Market,
    rate: float,
) -> Iterator[Deduction]:
    """Yield the commission, the flat fee and the tax of a schedule, in the base currency; together `charged`.

    `whose` is the venue that takes them, "" for the house.
    """
    if schedule is None:
        return
    tax = to_base(charge_of(price, schedule, currency).tax, market, rate)
    flat = to_base(schedule.flat, market, rate)
    takes, venue = ("venue", {"venue": whose}) if whose else ("our", {})

    def what(kind: str, **values: Value) -> Sentence:
        return Sentence.saying(f"{takes}_{kind}", **venue, **values)

    def terms(language: Phrases) -> str:
        return schedule_words(schedule, currency, language)

    def rate_of_tax(language: Phrases) -> str:
        return percent_words(schedule.tax_rate, language)

    yield Deduction(what("commission", terms=terms), charged - flat - tax)
    if schedule.flat:
        yield Deduction(what("fee"), flat)
    if schedule.tax_rate:
        yield Deduction(what("tax", rate=rate_of_tax), tax)
