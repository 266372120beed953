"""What the pricing page needs to say whether to buy: the owner's rule, and what each venue costs and leaves.

reports/pricing/buying.js reads it. Whole numbers that can be large travel as text, so that none is rounded.
"""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from babel.numbers import get_currency_precision

from pipeline.answers.lots.answer import CHEAP, FLAGS, LOOK_FIRST, Terms, why_cost_unknown
from pipeline.answers.lots.landed import Landing, landing
from pipeline.answers.lots.resale import HIGHEST, LOWEST, POINTS_OF_CURVE
from pipeline.answers.lots.tables import state_terms
from pipeline.config import Import, Market, Venue
from pipeline.fees.amounts import LARGEST_POINTS, POINTS
from pipeline.fees.bids import MOST_POINTS, rungs_of
from pipeline.fees.schedule import NO_FEES, CompiledSchedule, compile_schedule
from pipeline.market.price_distribution import CHANCES

FLAG_NAMES = ("few", "conflict", "cheap", "title", "bare", "unread", "undated", "outside")
"""What the page calls the flags of lots, in their order."""


def buying_document(
    market: Market, terms: Terms, rates: Mapping[str, float], *, as_of: date
) -> dict[str, Any]:
    """Return the owner's rule and the venues, JSON-able; `rates` are units of each currency for one of the base.

    `stall` is a place without fees whose prices are in the base currency; a reader may give it a fee and shipping.
    """
    known = {**rates, market.base_currency: 1.0}
    return {
        "terms": asdict(terms),
        "rule": state_terms(terms, market.base_currency),
        "venues": {venue.name: _venue(venue, market, known, as_of) for venue in market.venues},
        "stall": {"kind": "stall", "why": "", "currency": market.base_currency, **_landing(_stall(market))},
        "points": POINTS,
        "most_points": str(MOST_POINTS),
        "largest_points": str(LARGEST_POINTS),
        "base_digits": get_currency_precision(market.base_currency),
        "chances": list(CHANCES),
        "cheap": CHEAP,
        "flags": dict(zip(FLAG_NAMES, FLAGS, strict=True)),
        "look_first": list(LOOK_FIRST),
        "curve": {"points": POINTS_OF_CURVE, "lowest": LOWEST, "highest": HIGHEST},
    }


def _venue(venue: Venue, market: Market, rates: Mapping[str, float], as_of: date) -> dict[str, Any]:
    """Return what a hammer price at a venue costs, and what a price there leaves its seller."""
    why = why_cost_unknown(market, venue.name, venue.currency, as_of, rates)
    stated = {"kind": venue.kind, "why": why, "currency": venue.currency}
    if venue.currency not in rates:
        return stated
    bought = landing(venue, market, rate=rates[venue.currency], on=as_of)
    buyer, seller = (venue.schedule(party, as_of) for party in ("buyer", "seller"))
    resale = {
        party: schedule and _schedule(compile_schedule(schedule, venue.currency))
        for party, schedule in (("buyer", buyer), ("seller", seller))
    }
    return {**stated, "rate": bought.rate, **_landing(bought), "resale": resale}


def _stall(market: Market) -> Landing:
    """Return how a price in the base currency lands where nothing is added to it."""
    digits = get_currency_precision(market.base_currency)
    return Landing(NO_FEES, (), rate=1.0, base_digits=digits, imported=Import(venue=""))


def _landing(landed: Landing) -> dict[str, Any]:
    """Return a landing: its fees, bid steps, exchange and import charges."""
    return {
        "fees": _schedule(landed.fees),
        "rungs": [[str(part) for part in rung] for rung in rungs_of(landed.increments)],
        "points_per_minor": landed.points_per_minor,
        "freight": str(landed.freight),
        "charges": [_schedule(charge) for charge in landed.import_charges],
    }


def _schedule(fees: CompiledSchedule) -> dict[str, Any]:
    """Return a compiled schedule with its whole numbers as text."""
    return {
        "pieces": [[str(part) for part in (one.above, one.up_to, one.base, one.rate)] for one in fees.pieces],
        **{name: str(getattr(fees, name)) for name in ("ratio", "unit", "tax", "tax_ratio")},
    }
