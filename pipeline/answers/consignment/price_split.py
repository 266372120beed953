"""The split of a price: what the venue, the house and the consignor get of it, to the minor unit."""

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from babel.numbers import get_currency_precision

from pipeline.config import FeeSchedule, Market, Venue
from pipeline.fees import charge_of, fee_of, hammer_from_all_in
from pipeline.fees.prices import Charge

NOTHING = Decimal(0)


@dataclass(frozen=True)
class PriceSplit:
    """Who gets what of a price, in the base currency to its minor unit.

    all_in = buyer_fee + hammer and hammer = venue_fee + commission + commission_tax + to_consignor, always.
    `hammer_native` is the hammer price (or the fixed price) in the venue's currency. The house keeps
    `commission`; the tax on it goes to the state.
    """

    all_in: Decimal
    buyer_fee: Decimal
    hammer: Decimal
    hammer_native: Decimal
    venue_fee: Decimal
    commission: Decimal
    commission_tax: Decimal
    to_consignor: Decimal


def divide_hammer(hammer: Decimal, venue: Venue, market: Market, *, rate: float, on: date) -> PriceSplit:
    """Return the split of a hammer price (or fixed price), in the venue's currency, on a day.

    `rate` is units of the venue's currency for one of the base. At a shop, the owner's own, the shop's
    seller's schedule is the house's commission; elsewhere the venue takes its own, and the house the
    commission of the market file, on the hammer price in the base currency.
    """
    buyers = venue.schedule("buyer", on)
    in_base = to_base(hammer, market, rate)
    paid = NOTHING if buyers is None else fee_of(hammer, buyers, venue.currency)
    buyer_fee = to_base(paid, market, rate)
    sellers = _charge(hammer, venue.schedule("seller", on), venue.currency)
    taken = to_base(sum(sellers, NOTHING), market, rate)
    if venue.kind == "shop":
        venue_fee, commission = NOTHING, to_base(sellers.fee, market, rate)
        tax = taken - commission
    else:
        venue_fee = taken
        commission, tax = _charge(in_base, commission_on(market, on), market.base_currency)
    return PriceSplit(
        all_in=in_base + buyer_fee,
        buyer_fee=buyer_fee,
        hammer=in_base,
        hammer_native=hammer,
        venue_fee=venue_fee,
        commission=commission,
        commission_tax=tax,
        to_consignor=in_base - venue_fee - commission - tax,
    )


def divide_price(price: float, venue: Venue, market: Market, *, rate: float, on: date) -> PriceSplit:
    """Return the split of an all-in price in the base currency: of the hammer price behind it.

    Where no hammer price has just that all-in, it is the greatest that does not exceed it.
    """
    return divide_hammer(hammer_behind(price, venue, rate=rate, on=on), venue, market, rate=rate, on=on)


def hammer_behind(price: float, venue: Venue, *, rate: float, on: date) -> Decimal:
    """Return the hammer price (the venue's currency) behind an all-in price in the base currency; zero for none."""
    unit = Decimal(1).scaleb(-get_currency_precision(venue.currency))
    native = Decimal(repr(price * rate)).quantize(unit, ROUND_HALF_UP)
    buyers = venue.schedule("buyer", on)
    if buyers is None:
        return native
    return hammer_from_all_in(native, buyers, venue.currency) or NOTHING


def commission_on(market: Market, on: date) -> FeeSchedule | None:
    """Return the house's commission in force on a day, or None where none is agreed."""
    started = [schedule for schedule in market.consigning.commission if schedule.starts_on <= on]
    return max(started, key=lambda schedule: schedule.starts_on, default=None)


def _charge(hammer: Decimal, schedule: FeeSchedule | None, currency: str) -> Charge:
    return Charge(NOTHING, NOTHING) if schedule is None else charge_of(hammer, schedule, currency)


def to_base(amount: Decimal, market: Market, rate: float) -> Decimal:
    """Return an amount at a rate (its units for one of the base) in the base currency, to its minor unit."""
    unit = Decimal(1).scaleb(-get_currency_precision(market.base_currency))
    exact = amount if rate == 1.0 else amount / Decimal(repr(rate))
    return exact.quantize(unit, ROUND_HALF_UP)
