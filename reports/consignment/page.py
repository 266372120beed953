"""The consignor's sheet: what the pair should bring, where, and at what price; nothing of what the house keeps."""

from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.answers.consignment.answer import HORIZONS, Consignment, VenueOffer
from pipeline.untrusted import show_words
from reports.consignment.asks import asks_chart
from reports.facts import pair_facts, pair_heading
from reports.page import Column, Figure, Table, render_page, tabulate, write_page

TITLES = {
    "ask": "Asking price",
    "least to take": "Least price to take",
    "reserve": "Reserve",
    "low estimate": "Low estimate",
    "high estimate": "High estimate",
}


def consignment_page(consignment: Consignment, *, business: str) -> str:
    """Return the HTML sheet of a consignment; `business` is the owner's name (untrusted text)."""
    heading, subheading = pair_heading(consignment.pair)
    curved = next((offer for offer in consignment.offers if offer.curve), None)
    return render_page(
        "consignment/page.html.j2",
        charts=curved is not None,
        business=business,
        heading=heading,
        subheading=subheading,
        as_of=formats.day(consignment.as_of),
        net=formats.estimate(consignment.offers[0].net, consignment.currency) if consignment.offers else "",
        sentence=state_consignment(consignment),
        venues=venue_table(consignment),
        offers=[_offer(offer) for offer in consignment.offers],
        facts=[(name, value) for name, value in pair_facts(consignment.pair) if name != "Venue"],
        curve=_curve_figure(consignment, curved) if curved else None,
        curve_venue=show_words(curved.venue, 80) if curved else "",
        patience=consignment.patience_days,
        cautions=[
            show_words(caution)
            for caution in consignment.cautions
            if caution not in consignment.pair.read_as  # of the owner's options and file
        ],
        source=consignment.source,
    )


def consignment_figures(consignment: Consignment) -> tuple[Figure, ...]:
    """Return the figures of the sheet: the curve of asks, where a venue at fixed prices has one."""
    return tuple(_curve_figure(consignment, offer) for offer in consignment.offers if offer.curve)[:1]


def write_consignment(consignment: Consignment, path: Path, *, business: str) -> Path:
    """Write the sheet of a consignment and return its path; raises ReportError where it cannot."""
    return write_page(consignment_page(consignment, business=business), path)


def state_consignment(consignment: Consignment) -> str:
    """Return the answer in a sentence."""
    if not consignment.offers:
        return "There is no venue whose currency has a known rate."
    best = consignment.offers[0]
    low, high = (formats.estimate(net, consignment.currency) for net in (best.net_low, best.net_high))
    net = formats.estimate(best.net, consignment.currency)
    return (
        f"Offered at {show_words(best.venue, 80)}, a typical sale leaves you {net} after all charges; "
        f"eight times in ten, a sale there leaves between {low} and {high}."
    )


def venue_table(consignment: Consignment) -> Table:
    """Return what the consignor may expect at each venue."""
    currency = consignment.currency
    rows = pl.DataFrame(
        {
            "venue": [show_words(offer.venue, 80) for offer in consignment.offers],
            "way": ["auction" if offer.kind == "auction" else "fixed price" for offer in consignment.offers],
            "price": [formats.estimate(offer.median, currency) for offer in consignment.offers],
            "band": [
                f"{formats.estimate(offer.low, currency)} – {formats.estimate(offer.high, currency)}"
                for offer in consignment.offers
            ],
            "net": [formats.estimate(offer.net, currency) for offer in consignment.offers],
        },
        schema=dict.fromkeys(("venue", "way", "price", "band", "net"), pl.String),
    )
    return tabulate(
        rows,
        "What each venue should bring",
        {
            "venue": Column("Venue"),
            "price": Column("Buyers pay about", figures=True),
            "net": Column("Leaves you then", figures=True),
            "band": Column("Eight in ten pay", figures=True),
            "way": Column("How it is offered"),
        },
    )


def _offer(offer: VenueOffer) -> dict[str, object]:
    return {
        "venue": show_words(offer.venue, 80),
        "share": "" if offer.share_sold is None else formats.level(offer.share_sold),
        "lines": [
            {
                "name": TITLES[line.name],
                "amount": formats.amount(float(line.amount), line.currency),
                "how": show_words(line.how),
            }
            for line in offer.suggestions
        ],
    }


def _curve_figure(consignment: Consignment, offer: VenueOffer) -> Figure:
    currency = consignment.currency
    rows = pl.DataFrame(
        {
            "ask": [formats.estimate(point.ask, currency) for point in offer.curve],
            **{
                f"in_{days}": [formats.level(point.chances[number]) for point in offer.curve]
                for number, days in enumerate(HORIZONS)
            },
            "net": [formats.estimate(point.expected_net, currency) for point in offer.curve],
        }
    )
    spoken = "; ".join(
        f"at {ask}, {chance} within {HORIZONS[0]} days"
        for ask, chance in rows.select("ask", f"in_{HORIZONS[0]}").iter_rows()
    )
    source = consignment.source
    return Figure(
        key="asks",
        chart=asks_chart(offer, currency),
        alternative=f"The chance of a sale falls as the ask rises: {spoken}.",
        note=f"From {formats.counted(consignment.offers_behind_curve, 'past offer')} at fixed prices, sold and unsold, "
        f"to {formats.day(source.last_sale)}, as of {formats.day(consignment.as_of)}, "
        f"fit {show_words(source.fit_id, 40)}.",
        tables=(
            tabulate(
                rows,
                "Asks and chances",
                {
                    "ask": Column("Asked"),
                    **{f"in_{days}": Column(f"Sold within {days} days", figures=True) for days in HORIZONS},
                    "net": Column("Leaves you on average", figures=True),
                },
            ),
        ),
        rows=pl.DataFrame(
            [
                {
                    "ask": point.ask,
                    **{f"in_{days}_days": point.chances[number] for number, days in enumerate(HORIZONS)},
                    "net": point.expected_net,
                }
                for point in offer.curve
            ]
        ),
    )
