"""The consignor's sheet: what the pair should bring, where, and at what price; nothing of what the house keeps."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from markupsafe import Markup

from pipeline import formats
from pipeline.answers.appraisal.sentences import WEAKNESSES
from pipeline.answers.consignment.answer import HORIZONS, Consignment, VenueOffer
from pipeline.answers.consignment.tables import (
    TITLES,
    curve_table,
    explanations,
    offer_at,
    state_consignment,
    venues_table,
)
from pipeline.answers.sheet import NONE, words
from pipeline.config import Business
from pipeline.glossary import Term
from pipeline.limits import LIMITS
from pipeline.phrases.languages import EXPLAINED, limit_key, meaning_key, word_key
from pipeline.phrases.phrases import ENGLISH, Phrases
from pipeline.pictures.photograph import Photograph
from pipeline.untrusted import show_words
from reports.consignment.asks import asks_chart
from reports.facts import cautions_below, described, pair_heading, source_line, weak_notice
from reports.page import Column, Figure, Table, render_page
from reports.photographs import show_photographs

MOST_PICTURES = 1
"""The most photographs of the pair that the sheet shows: what its first page has room for beside the facts."""


def consignment_page(
    consignment: Consignment,
    *,
    business: str,
    house: Business | None = None,
    venue: str | None = None,
    pictures: Sequence[Photograph] = (),
    language: Phrases = ENGLISH,
) -> str:
    """Return the HTML sheet of a consignment; `business` is the owner's name (untrusted text).

    `house` has the owner's address and terms. The sheet is of an offer at `venue`, of the best one if that is None; no
    link stands on it, since it travels alone. Raises UnknownName for a venue at which the pair is not offered.
    """
    house = house or Business()
    chosen = offer_at(consignment, venue)
    sentence = state_consignment(consignment, chosen, language)
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
    weak = weak_notice(
        [replace(one, words="") if one.words in stale else one for one in consignment.weak], language=language
    )
    figures = consignment_figures(consignment, language=language)
    return render_page(
        "consignment/page.html.j2",
        own_style="consignment/page.css",
        language=language,
        meanings=None if language.is_english else [_meaning(name, language) for name in EXPLAINED],
        business=business,
        house=show_words(business, 120),
        address=[show_words(line) for line in house.address],
        terms=[show_words(line, 2000) for line in house.terms.splitlines() if line.strip()],
        heading=heading,
        subheading=subheading,
        pictures=show_photographs(pictures, pair, language),
        as_of=language.day(consignment.as_of),
        weak=weak,
        currency=consignment.currency,
        offer=_offer(chosen, consignment.currency, language) if chosen else None,
        sentence=show_words(sentence),
        venues=_venues(consignment, language),
        prices=_prices(consignment, language),
        facts=_facts(consignment, language),
        curve=figures[0] if figures else None,
        curve_venue=show_words(
            next((offer.venue for offer in consignment.recommended if offer.curve), ""), 80
        ),
        patience=consignment.patience_days,
        cautions=cautions_below(
            [caution for caution in consignment.cautions if caution not in of_the_file], weak, language
        ),
        own_limits=(
            language.say("no_promise"),
            *(LIMITS if language.is_english else [language.say(limit_key(at)) for at in range(len(LIMITS))]),
        ),
    )


def _meaning(name: str, language: Phrases) -> Term:
    """Return a word of the glossary in another language."""
    return Term(language.say(word_key(name)), language.say(meaning_key(name)))


def consignment_figures(consignment: Consignment, *, language: Phrases = ENGLISH) -> tuple[Figure, ...]:
    """Return the figures of the sheet: the curve of asks of each venue at fixed prices that has one."""
    curved = [offer for offer in consignment.recommended if offer.curve]
    return tuple(
        _curve_figure(consignment, offer, number, curved, language)
        for number, offer in enumerate(curved, start=1)
    )


def _facts(consignment: Consignment, language: Phrases) -> list[tuple[str, str]]:
    """Return (name, value) of what is known of the pair, in the words of the shop; last, what nobody noted."""
    shop = consignment.shop_words
    said = {"maker": shop.maker, "era": shop.era, "size": shop.size, "grade": shop.grade}
    facts: dict[str, str | None] = {"maker": None, **described(consignment.pair, language)}
    for name, wording in said.items():
        facts[name] = show_words(language.translate(wording), 120) or facts[name]
    known = [(language.say(f"fact_{name}"), value) for name, value in facts.items() if value is not None]
    unknown = [language.say(f"fact_{name}") for name, value in facts.items() if value is None]
    if not unknown:
        return known
    noted = language.listed([name.lower() for name in unknown] if language.is_english else unknown)
    return [*known, (language.say("fact_not_noted"), noted)]


def _offer(offer: VenueOffer, currency: str, language: Phrases) -> Mapping[str, object]:
    """Return what the sheet says of the offer at the chosen venue: the prices, and what becomes of each."""
    say = language.say
    lines = zip(*(one.deductions for one in offer.settlements), strict=True)
    reserve = next((line for line in offer.suggestions if line.name == "reserve"), None)
    auction, foreign = offer.kind == "auction", offer.currency != currency
    notes = []
    if reserve:
        notes.append(say("reserve_kept", amount=language.exact(reserve.amount, reserve.currency)))
    if foreign:
        rate = {"rate": formats.number(offer.rate, 6, language.locale), "currency": offer.currency}
        dated = {"day": language.day(offer.rate_on)} if offer.rate_on else {}
        notes.append(
            say("exchange_rate_of_day" if dated else "exchange_rate", **rate, base=currency, **dated)
        )
    venue = Markup("<bdi>{}</bdi>").format(show_words(offer.venue, 80))
    price = say("hammer_price" if auction else "price")
    return {
        "heading": say("offered_by_auction" if auction else "offered_at_fixed_price", venue=venue),
        "native": say("price_in_currency", currency=offer.currency),
        "net": language.estimate(offer.net, currency),
        "price_words": say("in_currency", currency=currency) if foreign else price,
        "settled": [
            {
                "name": say(TITLES[one.name]),
                "native": language.exact(one.price_native, offer.currency),
                "price": language.exact(one.price, currency),
                "to_consignor": language.exact(one.to_consignor, currency),
            }
            for one in offer.settlements
        ],
        "deductions": [
            {
                "what": show_words(language.translate(line[0].what)),
                "amounts": [f"{formats.MINUS}{language.exact(one.amount, currency)}" for one in line],
            }
            for line in lines
        ],
        "foreign": foreign,
        "notes": notes,
    }


def _venues(consignment: Consignment, language: Phrases) -> Table:
    """Return what the consignor may expect at each venue, without what the house keeps."""
    venues = venues_table(consignment, language)
    shown = tuple(column for column in venues.columns if column.key != "commission")
    way = words("way", language.say("how_offered"))
    return Table.of(replace(venues, columns=(*shown, way)))


def _prices(consignment: Consignment, language: Phrases) -> Table:
    """Return one row a venue with the prices to set there, in its currency, and how they were reached."""
    named = [name for name in TITLES if any(_price(offer, name, language) for offer in consignment.offers)]
    rows = tuple(
        (show_words(offer.venue), *(_price(offer, name, language) or NONE for name in named))
        for offer in consignment.offers
    )
    columns = (
        Column(language.say("venue")),
        *(Column(language.say(TITLES[name]), figures=True) for name in named),
    )
    notes = tuple(show_words(line) for line in explanations(consignment, language))
    return Table(language.say("prices_to_set"), columns, rows, notes)


def _price(offer: VenueOffer, name: str, language: Phrases) -> str:
    found = [line for line in offer.suggestions if line.name == name]
    return formats.amount(float(found[0].amount), found[0].currency, language.locale) if found else ""


def _curve_figure(
    consignment: Consignment,
    offer: VenueOffer,
    number: int,
    curved: Sequence[VenueOffer],
    language: Phrases,
) -> Figure:
    currency, say = consignment.currency, language.say
    asks = curve_table(offer, currency, language)
    points = [say("chance_at", ask=row[0], chance=row[2], days=HORIZONS[0]) for row in asks.texts()]
    chart = asks_chart(offer, currency, patience=consignment.patience_days, beside=curved, language=language)
    return Figure(
        key="asks" if number == 1 else f"asks-{number}",
        chart=chart,
        alternative=say("chance_falls", points=language.texts["reason_mark"].join(points)),
        note=say("curve_note", offers=language.counted(consignment.offers_behind_curve, "offer")),
        tables=(asks,),
        rows=asks.rows.drop("ratio"),
        source=source_line(consignment),
    )
