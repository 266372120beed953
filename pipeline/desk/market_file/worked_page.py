"""What bids at a venue come to, as the pages of it show them."""

from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

from babel.numbers import get_currency_precision
from starlette.requests import Request

from pipeline import formats
from pipeline.clock import today
from pipeline.config import Venue
from pipeline.desk.market_file.faults import market_in
from pipeline.desk.market_file.fields import Shape
from pipeline.desk.market_file.layout import KeyPath
from pipeline.desk.market_file.worked_bid import USUAL, worked_prices
from pipeline.desk.market_file.written import BLANK, read_written

HEADINGS = ("Premium", "Tax on it", "All-in", "Seller’s net")


def bids_at(request: Request, path: KeyPath, text: str) -> dict[str, Any] | None:
    """Return what bids at a venue come to by its fees, where a page is of one; as its texts show them."""
    if len(path) < 2 or path[0] != "venues" or not isinstance(path[1], int):
        return None
    venues = market_in(text).venues
    if path[1] >= len(venues):
        return None
    venue = venues[path[1]]
    own = request.query_params.get("hammer", "")
    hammers, fault = _hammers(own, venue)
    day = _day(request.query_params.get("on", ""))
    try:
        rows = worked_prices(venue, hammers, as_of=day)
    except ValueError as exc:
        rows, fault = (), str(exc)
    money = partial(formats.exact, currency=venue.currency)
    return {
        "venue": venue.name,
        "day": day,
        "own": own,
        "fault": fault,
        "at": [str(step) for step in path],
        "page": request.url.path,
        "headings": ("Hammer" if venue.kind == "auction" else "Price", *HEADINGS),
        "rows": [
            [
                "" if amount is None else money(amount)
                for amount in (
                    one.hammer,
                    one.premium,
                    one.tax,
                    one.all_in,
                    one.net,
                )
            ]
            for one in rows
        ],
    }


def _hammers(own: str, venue: Venue) -> tuple[tuple[Decimal, ...], str]:
    """Return the hammer prices to work out: the owner's own, or the usual ones in the venue's currency."""
    usual = tuple(one * 100 if get_currency_precision(venue.currency) == 0 else one for one in USUAL)
    try:
        number = read_written(own, Shape("number"))
    except ValueError as exc:
        return usual, str(exc)
    return (usual, "") if number is BLANK else ((Decimal(number),), "")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return today()
