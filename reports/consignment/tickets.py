"""The page of price tickets, as many to a sheet of paper as the market file says."""

from collections.abc import Sequence
from itertools import repeat

from pipeline import formats
from pipeline.answers.consignment.tickets import Price, Ticket
from pipeline.config import PAPERS, Tickets
from pipeline.phrases.phrases import ENGLISH, Phrases
from pipeline.pictures.photograph import Photograph
from pipeline.untrusted import show_words
from reports.page import render_page
from reports.photographs import photograph_words, show_photograph


def tickets_page(
    tickets: Sequence[Ticket],
    layout: Tickets,
    *,
    business: str,
    pictures: Sequence[Photograph | None] = (),
    language: Phrases = ENGLISH,
) -> str:
    """Return the HTML of the tickets, by sheets of `layout`; `business` is the owner's name (untrusted text).

    `pictures` has a photograph for each ticket, or None, or is empty.
    """
    most = layout.columns * layout.rows
    shown = [
        _ticket(ticket, picture, language)
        for ticket, picture in zip(tickets, pictures or repeat(None), strict=False)
    ]
    sheets = [shown[first : first + most] for first in range(0, len(shown), most)]
    width, height = PAPERS[layout.paper]
    return render_page(
        "consignment/tickets.html.j2",
        own_style="consignment/tickets.css",
        rules=(
            f"@page {{ size: {width}mm {height}mm; margin: 0; }}\n"
            f":root {{ --columns: {layout.columns}; --rows: {layout.rows}; --paper-width: {width}mm; "
            f"--paper-height: {height}mm; --width: {layout.width_mm:g}mm; --height: {layout.height_mm:g}mm; }}\n"
        ),
        business=business,
        sheets=sheets,
        language=language,
        meanings=None if language.is_english else (),
        how_to_print=language.say(
            "how_to_print",
            tickets=language.counted(len(shown), "ticket"),
            sheets=language.counted(len(sheets), "sheet"),
            paper=layout.paper,
        ),
    )


def _ticket(ticket: Ticket, picture: Photograph | None, language: Phrases) -> dict[str, object]:
    words = photograph_words(ticket.silhouette, ticket.colourway, ticket.stock, language)
    said = language.translate
    return {
        "picture": None if picture is None else show_photograph(picture, words),
        "maker": show_words(ticket.words.maker, 30),
        "name": show_words(ticket.silhouette, 36),
        "colourway": show_words(ticket.colourway, 30),
        "era": show_words(said(ticket.words.era), 44),
        "size": show_words(said(ticket.words.size), 30),
        "grade": show_words(said(ticket.words.grade), 36),
        "price": _price(ticket.price, language),
        "stock": show_words(ticket.stock, 24),
    }


def _price(price: Price | None, language: Phrases) -> str:
    return "" if price is None else formats.exact_or_whole(price.amount, price.currency, language.locale)
