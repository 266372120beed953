"""What a consignment says: what each venue should leave the consignor, and which prices to set there."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline import formats
from pipeline.alike import find_alike
from pipeline.answers.appraisal.cautions import state_weakness, weakness_names
from pipeline.answers.appraisal.tables import (
    NO_PAIR,
    PAIR_DETAILS,
    band_column,
    pair_name,
    shared_warnings,
    short_name,
)
from pipeline.answers.consignment.answer import HORIZONS, Consignment, VenueOffer
from pipeline.answers.sheet import (
    Column,
    Detail,
    Sheet,
    Table,
    count,
    estimate,
    level,
    source_words,
    table,
    words,
)
from pipeline.errors import UnknownName
from pipeline.phrases.phrases import ENGLISH, Phrases

TITLES = {
    "ask": "asking_price",
    "least to take": "least_to_take",
    "reserve": "reserve",
    "low estimate": "low_estimate",
    "high estimate": "high_estimate",
}
"""The key of the phrase that names a suggested price."""


def consignment_sheet(consignment: Consignment) -> Sheet:
    """Return the owner's sheet of one consignment: with what the house keeps."""
    best = consignment.recommended[0] if consignment.recommended else None
    curves = (
        curve_table(offer, consignment.currency).as_detail() for offer in consignment.offers if offer.curve
    )
    prices = prices_table(consignment)
    return Sheet(
        title=f"{pair_name(consignment.pair)}, valued on {formats.day(consignment.as_of)}",
        figures=()
        if best is None
        else (
            ("Best venue for the consignor", best.venue),
            (
                "Net at the median",
                f"{'about ' if consignment.weak else ''}{formats.estimate(best.net, consignment.currency)}",
            ),
        ),
        sentences=(state_consignment(consignment),),
        tables=(
            venues_table(consignment).marked(cut=("venue",)),
            replace(prices, note=Detail(prices.note)),
            *curves,
        ),
        warnings=(*doubts_of_venues(consignment), *consignment.cautions),
        source=source_words(consignment.source),
        weak=state_weakness(consignment.weak),
    )


def consignments_sheet(consignments: Sequence[Consignment]) -> Sheet:
    """Return the sheet of consignments of one day: one line a pair, in the order of the file; of one, its own sheet."""
    if not consignments:
        return NO_PAIR
    if len(consignments) == 1:
        return consignment_sheet(consignments[0])
    first = consignments[0]
    shared = shared_warnings([one.cautions for one in consignments])
    all_weak = shared_warnings([one.weak for one in consignments])
    said = (words("weak", "Weak"), words("unread", "Not read"))
    best = [one.recommended[0] if one.recommended else None for one in consignments]
    rows = [
        {
            "row": number,
            "pair": pair_name(one.pair),
            "venue": offer.venue if offer else None,
            "median": offer.median if offer else None,
            "net": offer.net if offer else None,
            "weak": weakness_names(doubt for doubt in one.weak if doubt not in all_weak) or None,
            "unread": ", ".join(cell.attribute for cell in one.pair.unread) or None,
            "warnings": len(one.cautions) - len(shared),
        }
        for number, (one, offer) in enumerate(zip(consignments, best, strict=True), start=1)
    ]
    return Sheet(
        title=f"{formats.counted(len(consignments), 'pair')}, valued on {formats.day(first.as_of)}",
        figures=()
        if not any(best)
        else (
            (
                "To the consignors together",
                formats.estimate(sum(one.net for one in best if one), first.currency),
            ),
        ),
        sentences=(PAIR_DETAILS,),
        tables=(
            table(
                "pairs",
                "The best venue for the consignor, and what a typical sale there leaves them",
                (
                    count("row", "Row"),
                    Column("pair", "Pair", short_name, cut=True),
                    Column("venue", "Best venue", cut=True),
                    estimate("median", "Fair value there", first.currency),
                    estimate("net", "Net at the median", first.currency),
                    count("warnings", "Warnings"),
                    *(column for column in said if any(row[column.key] for row in rows)),
                ),
                rows,
            ),
        ),
        warnings=(*doubts_of_venues(first), *shared),
        source=source_words(first.source),
        weak=state_weakness(all_weak),
    )


def offer_at(consignment: Consignment, venue: str | None) -> VenueOffer | None:
    """Return the offer at a venue, of the best one if that is None; raises UnknownName where there is none."""
    if venue is None:
        return consignment.recommended[0] if consignment.recommended else None
    offers = {offer.venue: offer for offer in consignment.offers}
    found = find_alike(venue, offers)
    if found is None:
        raise UnknownName.among("venue of this consignment", venue, offers)
    return offers[found]


def state_consignment(
    consignment: Consignment, chosen: VenueOffer | None = None, language: Phrases = ENGLISH
) -> str:
    """Return the answer in words, of the best venue or of the one that the owner chose."""
    if not consignment.offers:
        return language.say("no_venue")
    if not consignment.recommended and chosen is None:
        return language.say("none_qualifies")
    best = chosen or consignment.recommended[0]
    is_best = best is consignment.offers[0] and best.qualifies
    net, low, high = (
        language.estimate(amount, consignment.currency) for amount in (best.net, best.net_low, best.net_high)
    )
    key = "best_for_consignor" if is_best else "chosen_venue"
    return language.say(key, venue=best.venue, net=net, low=low, high=high)


def doubts_of_venues(consignment: Consignment) -> tuple[str, ...]:
    """Return what speaks against venues, each doubt once, and which venues that keeps off the consignor's sheet."""
    venues: dict[tuple[str, bool], list[str]] = {}
    for offer in consignment.offers:
        if offer.doubts:
            venues.setdefault(("; ".join(offer.doubts), offer.qualifies), []).append(offer.venue)
    return tuple(
        f"{', '.join(names)}: {doubts}."
        + (
            ""
            if qualifies
            else f" {'It is' if len(names) == 1 else 'They are'} not recommended, and not on the sheet "
            "unless the venue's entry says that it takes consignments (`consignment = true`)."
        )
        for (doubts, qualifies), names in venues.items()
    )


def venues_table(consignment: Consignment, language: Phrases = ENGLISH) -> Table:
    """Return one row a venue, best first: what buyers pay, what the consignor and the house get, the lots sold.

    Rows also hold `way`, how the venue sells.
    """
    currency, say, locale = consignment.currency, language.say, language.locale
    rows = [
        {
            "venue": offer.venue,
            "way": say("by_auction" if offer.kind == "auction" else "at_fixed_price"),
            "median": offer.median,
            "low": offer.low,
            "high": offer.high,
            "net": offer.net,
            "commission": float(offer.at_median.commission),
            "share_sold": offer.share_sold,
        }
        for offer in consignment.offers
    ]
    return table(
        "venues",
        say("venues_bring"),
        (
            words("venue", say("venue")),
            estimate("median", say("fair_value_there"), currency, locale),
            band_column(currency, language),
            estimate("net", say("net_at_median"), currency, locale),
            estimate("commission", "To the house", currency),
            level("share_sold", say("lots_sold"), locale),
        ),
        rows,
    )


def prices_table(consignment: Consignment) -> Table:
    """Return one row a price to set at a venue, in the venue's currency; the note says how each was reached."""
    rows = [
        {
            "venue": offer.venue,
            "price": ENGLISH.say(TITLES[line.name]),
            "amount": formats.amount(float(line.amount), line.currency),
        }
        for offer in consignment.offers
        for line in offer.suggestions
    ]
    return table(
        "prices",
        "Prices to set",
        (words("venue", "Venue"), words("price", "Price"), Column("amount", "Amount", number=True)),
        rows,
        note="\n".join(explanations(consignment)),
    )


def explanations(consignment: Consignment, language: Phrases = ENGLISH) -> tuple[str, ...]:
    """Return how each price was reached, once for all venues where it was reached in the same way."""
    venues: dict[str, dict[str, list[str]]] = {}
    for offer in consignment.offers:
        for line in offer.suggestions:
            title, how = language.say(TITLES[line.name]), language.translate(line.how)
            venues.setdefault(title, {}).setdefault(how, []).append(offer.venue)
    return tuple(
        language.say("how_reached", price=title, how=how)
        if len(ways) == 1
        else language.say("how_reached_at", price=title, venues=language.listed(at), how=how)
        for title, ways in venues.items()
        for how, at in ways.items()
    )


def curve_table(offer: VenueOffer, currency: str, language: Phrases = ENGLISH) -> Table:
    """Return one row an ask: ask, ratio (of fair value), the chance of a sale by each horizon, net (on average)."""
    rows = [
        {
            "ask": point.ask,
            "ratio": point.ratio,
            **{f"in_{days}_days": chance for days, chance in zip(HORIZONS, point.chances, strict=True)},
            "net": point.expected_net,
        }
        for point in offer.curve
    ]
    say, locale = language.say, language.locale
    return table(
        f"asks at {offer.venue}",
        say("asks_at_venue", venue=offer.venue),
        (
            estimate("ask", say("ask"), currency, locale),
            level("ratio", say("of_fair_value"), locale),
            *(level(f"in_{days}_days", say("within_days", days=days), locale) for days in HORIZONS),
            estimate("net", say("expected_net"), currency, locale),
        ),
        pl.DataFrame(rows),
    )
