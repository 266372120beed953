"""The consignor's sheet: what the pair should bring, where, and at what price; nothing of what the house keeps."""

from collections.abc import Sequence
from dataclasses import replace

from pipeline import formats
from pipeline.answers.appraisal.cautions import WEAKNESSES
from pipeline.answers.consignment.answer import HORIZONS, Consignment, VenueOffer
from pipeline.answers.consignment.tables import (
    curve_table,
    prices_table,
    state_consignment,
    venues_table,
)
from pipeline.answers.sheet import words
from pipeline.untrusted import show_words
from reports.consignment.asks import asks_chart
from reports.facts import cautions_below, pair_facts, pair_heading, source_line, weak_notice
from reports.links import Link
from reports.page import Figure, Table, render_page


def consignment_page(consignment: Consignment, *, business: str, links: Sequence[Link] = ()) -> str:
    """Return the HTML sheet of a consignment; `business` is the owner's name (untrusted text)."""
    sentence = state_consignment(consignment)
    consignment = replace(consignment, offers=consignment.recommended)
    heading, subheading = pair_heading(consignment.pair)
    pair = consignment.pair
    stale = {one.words for one in consignment.weak if one.weakness == WEAKNESSES["stale"]}
    of_the_file = {
        *pair.read_as,
        *(cell.words for cell in pair.unread),
        *stale,
    }  # for the owner, not the consignor
    weak = weak_notice([replace(one, words="") if one.words in stale else one for one in consignment.weak])
    curved = next((offer for offer in consignment.offers if offer.curve), None)
    return render_page(
        "consignment/page.html.j2",
        business=business,
        links=links,
        heading=heading,
        subheading=subheading,
        as_of=formats.day(consignment.as_of),
        net=formats.estimate(consignment.offers[0].net, consignment.currency) if consignment.offers else "",
        weak=weak,
        sentence=show_words(sentence),
        venues=_venues(consignment),
        prices=Table.of(prices_table(consignment)),
        facts=[(name, value) for name, value in pair_facts(consignment.pair) if name != "Venue"],
        curve=_curve_figure(consignment, curved) if curved else None,
        curve_venue=show_words(curved.venue, 80) if curved else "",
        patience=consignment.patience_days,
        cautions=cautions_below(
            [caution for caution in consignment.cautions if caution not in of_the_file], weak
        ),
        source=consignment.source,
    )


def consignment_figures(consignment: Consignment) -> tuple[Figure, ...]:
    """Return the figures of the sheet: the curve of asks, where a venue at fixed prices has one."""
    return tuple(_curve_figure(consignment, offer) for offer in consignment.recommended if offer.curve)[:1]


def _venues(consignment: Consignment) -> Table:
    """Return what the consignor may expect at each venue, without what the house keeps."""
    venues = venues_table(consignment)
    shown = tuple(column for column in venues.columns if column.key != "commission")
    return Table.of(replace(venues, columns=(*shown, words("way", "How it is offered"))))


def _curve_figure(consignment: Consignment, offer: VenueOffer) -> Figure:
    currency = consignment.currency
    asks = curve_table(offer, currency)
    in_words = "; ".join(f"at {row[0]}, {row[2]} within {HORIZONS[0]} days" for row in asks.texts())
    return Figure(
        key="asks",
        chart=asks_chart(offer, currency),
        alternative=f"The chance of a sale falls as the ask rises: {in_words}.",
        note=f"From {formats.counted(consignment.offers_behind_curve, 'past offer')} at fixed prices, sold and unsold.",
        tables=(asks,),
        rows=asks.rows.drop("ratio"),
        source=source_line(consignment),
    )
