"""A consignment in the terminal: for the owner, with what the house keeps."""

from rich.markup import escape
from rich.table import Table

from pipeline import formats
from pipeline.answers.consignment.answer import HORIZONS, Consignment, VenueOffer
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of


def show_consignment(consignment: Consignment) -> None:
    """Print a consignment: the venues, what to ask there, the curve of asks, cautions."""
    currency = consignment.currency
    pair = consignment.pair
    name = " · ".join(part for part in (pair.label, pair.silhouette, pair.colourway, pair.era) if part)
    OUT.print(f"\n[bold]{escape(name)}[/bold], valued at {consignment.as_of.isoformat()}")
    if not consignment.offers:
        OUT.print("No venue of the market file has a currency with a known rate.")
        return
    best = consignment.offers[0]
    OUT.print(
        f"Best for the consignor: [bold]{escape(best.venue)}[/bold], about "
        f"[bold]{formats.estimate(best.net, currency)}[/bold] to them from a typical sale\n"
    )
    table = table_of(
        *("venue", "fair value", "80 % band", "to consignor", "to the house", "lots sold"),
        right=(1, 2, 3, 4, 5),
    )
    for offer in consignment.offers:
        table.add_row(
            escape(offer.venue),
            formats.estimate(offer.median, currency),
            f"{formats.estimate(offer.low, currency)} – {formats.estimate(offer.high, currency)}",
            formats.estimate(offer.net, currency),
            formats.estimate(float(offer.at_median.commission), currency),
            "" if offer.share_sold is None else formats.level(offer.share_sold),
        )
    OUT.print(table)
    for offer in consignment.offers:
        for set_price in offer.suggestions:
            amount = formats.amount(float(set_price.amount), set_price.currency)
            OUT.print(
                f"{escape(offer.venue)}: {set_price.name} [bold]{amount}[/bold]. {escape(set_price.how)}",
                soft_wrap=True,
            )
    for offer in consignment.offers:
        if offer.curve:
            OUT.print(f"\nAsks at {escape(offer.venue)} (within {', '.join(map(str, HORIZONS))} days):")
            OUT.print(_curve(offer, currency))
    for caution in consignment.cautions:
        OUT.print(f"! {escape(caution)}", soft_wrap=True)
    for limit in LIMITS:
        OUT.print(limit, style="dim", soft_wrap=True)


def _curve(offer: VenueOffer, currency: str) -> Table:
    table = table_of(
        *("ask", "of fair value", *(f"{days} days" for days in HORIZONS), "to consignor on average"),
        right=tuple(range(6)),
    )
    for point in offer.curve:
        table.add_row(
            formats.estimate(point.ask, currency),
            formats.level(point.ratio),
            *(formats.level(chance) for chance in point.chances),
            formats.estimate(point.expected_net, currency),
        )
    return table
