"""Where a described pair is offered and at what price, and what the rule of buying says of it."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import click
from starlette.requests import Request

from pipeline.answers.lots.offer import PRIVATELY, offer_sheet, value_offer
from pipeline.answers.sheet import Sheet
from pipeline.desk.desk import Desk
from pipeline.desk.forms import Field, Form
from pipeline.desk.pages import desk_of
from pipeline.errors import PairbandError
from pipeline.market.seen import SeenWords
from pipeline.market.subject import Description
from pipeline.options import MOST_MONEY
from pipeline.workspace import workspace_at

_AMOUNT = re.compile(r"(\d{1,9})(?:[.,](\d{1,2}))?")
NO_AMOUNT = "This is no amount above zero: write 120 or 120.50."


@dataclass(frozen=True)
class Offered:
    """What is said of an offer: a venue, PRIVATELY or "" for none, and the price as it was typed."""

    at: str
    price: str
    venues: tuple[str, ...]
    currencies: dict[str, str]

    @property
    def is_asked(self) -> bool:
        """Whether the rule of buying is asked for."""
        return bool(self.at or self.price)

    @property
    def amount(self) -> Decimal | None:
        """The price; None where it is none that can be used."""
        found = _AMOUNT.fullmatch(self.price)
        if found is None:
            return None
        amount = Decimal(f"{found[1]}.{found[2] or 0}")
        return amount if 0 < amount <= MOST_MONEY else None

    def fields(self, fault: str = "") -> tuple[Field, ...]:
        """Return the two fields of the form."""
        wrong = NO_AMOUNT if self.price and self.amount is None else ""
        currency = self.currencies.get(self.at or PRIVATELY, "")
        return (
            Field(
                "asked",
                "At a price of" + (f", {currency}" if currency else ""),
                "number",
                "At an auction the present bid. Left out, only the most to pay is said.",
                value=self.price,
                fault=wrong,
            ),
            Field("offered_at", "Offered at", "choice", "", offered=self.venues, value=self.at, fault=fault),
        )


@dataclass(frozen=True)
class Judged:
    """The sheet on an offer, and what the pair costs with all charges, in the base currency, where it has a price."""

    sheet: Sheet
    landed: float | None


def offered(request: Request) -> Offered:
    """Return what a request's address says of an offer."""
    said, market = request.query_params, desk_of(request).market()
    venues = (PRIVATELY, *(one.name for one in market.venues)) if market is not None else ()
    currencies = {} if market is None else {one.name: one.currency for one in market.venues}
    if market is not None:
        currencies[PRIVATELY] = market.base_currency
    at = said.get("offered_at", "").strip()
    return Offered(at if at in venues else "", said.get("asked", "").strip()[:40], venues, currencies)


def offer_sheet_of(desk: Desk, form: Form, offer: Offered) -> tuple[Judged | None, str]:
    """Return what the rule of buying says of the pair of a form, and what is wrong with the offer.

    None where nothing is asked, or where the pair itself cannot be read, which its value says.
    """
    if not offer.is_asked or (offer.price and offer.amount is None):
        return None, ""
    said = _values(form)
    if said is None or (said["file"] is not None and said["row"] is None):
        return None, ""
    words = {name: said[name] for name in Description.__dataclass_fields__}
    with workspace_at(desk.ledger_path, desk.market_path) as workspace:
        try:
            listed = value_offer(
                workspace,
                Description(**words),
                as_of=said["as_of"],
                offered_at=None if offer.at in ("", PRIVATELY) else offer.at,
                price=offer.amount,
                era_odds=said["era_odds"],
                seen=SeenWords(said["lasting"], said["factory_code"], said["stamp"], said["made"]),
                file=said["file"],
                row=said["row"],
                as_written=said["as_written"],
            )
            landed = listed.lots["landed_cost"][0]
            return Judged(offer_sheet(listed, workspace.market), landed), ""
        except PairbandError as exc:
            return None, str(exc)


def _values(form: Form) -> dict[str, Any] | None:
    """Return the values of a form as its command takes them, None where it would refuse them."""
    try:
        with form.command.make_context(
            form.command.name, form.arguments(), resilient_parsing=False
        ) as context:
            values: dict[str, Any] = dict(context.params)
    except click.ClickException:
        return None
    return values
