"""The consignor's sheet: what the pair should bring, where, and at what price; nothing of what the house keeps."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline import formats
from pipeline.answers.appraisal.cautions import WEAKNESSES
from pipeline.answers.consignment.answer import HORIZONS, Consignment, VenueOffer
from pipeline.answers.consignment.tables import (
    TITLES,
    curve_table,
    explanations,
    offer_at,
    state_consignment,
    venues_table,
)
from pipeline.answers.sheet import NONE, NOT_KNOWN, words
from pipeline.config import Business
from pipeline.photograph import Photograph
from pipeline.untrusted import show_words
from reports.consignment.asks import asks_chart
from reports.facts import cautions_below, pair_facts, pair_heading, source_line, weak_notice
from reports.page import Column, Figure, Table, render_page
from reports.photographs import show_photographs

MOST_PICTURES = 3
"""The most photographs of the pair that the sheet shows: what its first page has room for."""

NOT_ON_THE_SHEET = ("Venue",)
"""What is known of a pair and does not describe it to a consignor."""


def consignment_page(
    consignment: Consignment,
    *,
    business: str,
    house: Business | None = None,
    venue: str | None = None,
    pictures: Sequence[Photograph] = (),
) -> str:
    """Return the HTML sheet of a consignment; `business` is the owner's name (untrusted text).

    `house` has the owner's address and terms. The sheet is of an offer at `venue`, of the best one if that is None; no
    link stands on it, since it travels alone. Raises UnknownName for a venue at which the pair is not offered.
    """
    house = house or Business()
    chosen = offer_at(consignment, venue)
    sentence = state_consignment(consignment, chosen)
    others = tuple(offer for offer in consignment.recommended if offer is not chosen)
    consignment = replace(consignment, offers=(chosen, *others) if chosen else ())
    heading, subheading = pair_heading(consignment.pair)
    pair = consignment.pair
    stale = {one.words for one in consignment.weak if one.weakness == WEAKNESSES["stale"]}
    of_the_file = {
        *pair.read_as,
        *(cell.words for cell in pair.unread),
        *stale,
    }  # for the owner, not the consignor
    weak = weak_notice([replace(one, words="") if one.words in stale else one for one in consignment.weak])
    figures = consignment_figures(consignment)
    return render_page(
        "consignment/page.html.j2",
        own_style="consignment/page.css",
        business=business,
        house=show_words(business, 120),
        address=[show_words(line) for line in house.address],
        terms=[show_words(line, 2000) for line in house.terms.splitlines() if line.strip()],
        heading=heading,
        subheading=subheading,
        pictures=show_photographs(pictures, pair),
        as_of=formats.day(consignment.as_of),
        weak=weak,
        currency=consignment.currency,
        offer=_offer(chosen, consignment.currency) if chosen else None,
        sentence=show_words(sentence),
        venues=_venues(consignment),
        prices=_prices(consignment),
        facts=_facts(consignment),
        curve=figures[0] if figures else None,
        curve_venue=show_words(
            next((offer.venue for offer in consignment.recommended if offer.curve), ""), 80
        ),
        patience=consignment.patience_days,
        cautions=cautions_below(
            [caution for caution in consignment.cautions if caution not in of_the_file], weak
        ),
    )


def consignment_figures(consignment: Consignment) -> tuple[Figure, ...]:
    """Return the figures of the sheet: the curve of asks of each venue at fixed prices that has one."""
    curved = [offer for offer in consignment.recommended if offer.curve]
    return tuple(
        _curve_figure(consignment, offer, number, curved) for number, offer in enumerate(curved, start=1)
    )


def _facts(consignment: Consignment) -> list[tuple[str, str]]:
    """Return (name, value) of what is known of the pair, in the words of the shop; last, what nobody noted."""
    shop = consignment.shop_words
    said = {"Era": shop.era, "Size": shop.size, "Grade": shop.grade}
    facts = [("Maker", show_words(shop.maker, 80) or NOT_KNOWN), *pair_facts(consignment.pair)]
    worded = [(name, show_words(said.get(name, ""), 120) or value) for name, value in facts]
    shown = [fact for fact in worded if fact[0] not in NOT_ON_THE_SHEET]
    unknown = [name.lower() for name, value in shown if value == NOT_KNOWN]
    known = [fact for fact in shown if fact[1] != NOT_KNOWN]
    return [*known, ("Not noted", ", ".join(unknown))] if unknown else known


def _offer(offer: VenueOffer, currency: str) -> Mapping[str, object]:
    """Return what the sheet says of the offer at the chosen venue: the prices, and what becomes of each."""
    lines = zip(*(one.deductions for one in offer.settlements), strict=True)
    reserve = next((line for line in offer.suggestions if line.name == "reserve"), None)
    foreign = offer.currency != currency
    day = f", the rate of {formats.day(offer.rate_on)}" if offer.rate_on else ""
    notes = []
    if reserve:
        least = formats.exact(reserve.amount, reserve.currency)
        notes.append(f"Reserve: {least}; the pair is not sold below it.")
    if foreign:
        notes.append(
            f"{offer.rate:,.6g} {offer.currency} for 1 {currency}{day}; that of the day of the sale counts."
        )
    return {
        "venue": show_words(offer.venue, 80),
        "way": "by auction" if offer.kind == "auction" else "at a fixed price",
        "currency": offer.currency,
        "net": formats.estimate(offer.net, currency),
        "price_words": f"In {currency}"
        if foreign
        else "Hammer price"
        if offer.kind == "auction"
        else "Price",
        "settled": [
            {
                "name": TITLES[one.name],
                "native": formats.exact(one.price_native, offer.currency),
                "price": formats.exact(one.price, currency),
                "to_consignor": formats.exact(one.to_consignor, currency),
            }
            for one in offer.settlements
        ],
        "deductions": [
            {
                "what": show_words(line[0].what),
                "amounts": [f"{formats.MINUS}{formats.exact(one.amount, currency)}" for one in line],
            }
            for line in lines
        ],
        "foreign": foreign,
        "notes": notes,
    }


def _venues(consignment: Consignment) -> Table:
    """Return what the consignor may expect at each venue, without what the house keeps."""
    venues = venues_table(consignment)
    shown = tuple(column for column in venues.columns if column.key != "commission")
    return Table.of(replace(venues, columns=(*shown, words("way", "How it is offered"))))


def _prices(consignment: Consignment) -> Table:
    """Return one row a venue with the prices to set there, in its currency, and how they were reached."""
    named = [name for name in TITLES if any(_price(offer, name) for offer in consignment.offers)]
    rows = tuple(
        (show_words(offer.venue), *(_price(offer, name) or NONE for name in named))
        for offer in consignment.offers
    )
    columns = (Column("Venue"), *(Column(TITLES[name], figures=True) for name in named))
    notes = tuple(show_words(line) for line in explanations(consignment))
    return Table("Prices to set", columns, rows, notes)


def _price(offer: VenueOffer, name: str) -> str:
    found = [line for line in offer.suggestions if line.name == name]
    return formats.amount(float(found[0].amount), found[0].currency) if found else ""


def _curve_figure(
    consignment: Consignment, offer: VenueOffer, number: int, curved: Sequence[VenueOffer]
) -> Figure:
    currency = consignment.currency
    asks = curve_table(offer, currency)
    in_words = "; ".join(f"at {row[0]}, {row[2]} within {HORIZONS[0]} days" for row in asks.texts())
    return Figure(
        key="asks" if number == 1 else f"asks-{number}",
        chart=asks_chart(offer, currency, patience=consignment.patience_days, beside=curved),
        alternative=f"The chance of a sale falls as the ask rises: {in_words}.",
        note="Dashed: the suggested ask. "
        f"From {formats.counted(consignment.offers_behind_curve, 'past offer')} at fixed prices, sold and unsold.",
        tables=(asks,),
        rows=asks.rows.drop("ratio"),
        source=source_line(consignment),
    )
