"""Price consignments."""

from datetime import date
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import clock, formats, options
from pipeline.outputs import show_answer
from pipeline.streams import say

if TYPE_CHECKING:
    from pipeline.answers.consignment.answer import Consignment
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace


@options.command()
@options.pair
@options.label
@options.file_of_pairs
@options.row
@click.option(
    "--patience",
    type=click.IntRange(1, 730),
    help="Days to wait at a fixed price; else the market file's.",
)
@click.option(
    "--venue",
    type=options.WORDS,
    help="Where it will be offered, for the sheet (left out, where the consignor gets most) or the tickets (the shop).",
)
@click.option(
    "--tickets",
    type=options.OUTPUT,
    help="Write price tickets for the shelf there (HTML, to print), many to a sheet.",
)
@click.option(
    "--language",
    type=options.WORDS,
    help="Of the sheet and the tickets: en, de, ja, or one of your market file; left out, as that says.",
)
@options.on
@options.as_written
@options.outputs("Write the consignor's sheet there (HTML).", keeps=True)
def consign(
    label: str,
    file: Path | None,
    row: int | None,
    patience: int | None,
    venue: str | None,
    tickets: Path | None,
    language: str | None,
    as_of: date,
    as_written: bool,
    workspace: "Workspace",
    outputs: "Outputs",
    **words: str | None,
) -> None:
    """Say what each venue should bring for a pair, to consignor and house, and what to ask. Writes no record.

    The page is a sheet to sign: the pair, the prices at one venue, every charge, and what the consignor gets.

    Example: pairband consign --silhouette "Gannet Hi" --era first --grade 8 --page sheet.html
    """
    from pipeline.answers.appraisal.run import album_of
    from pipeline.answers.consignment.run import consign_descriptions, consign_file
    from pipeline.answers.consignment.tables import consignments_sheet

    if venue is not None and outputs.page is None and tickets is None:
        raise click.BadParameter(
            "it is of the sheet or the tickets: name a --page or --tickets", param_hint="--venue"
        )
    if language is not None and outputs.page is None and tickets is None:
        raise click.BadParameter(
            "it is of the sheet or the tickets: name a --page or --tickets", param_hint="--language"
        )
    phrases = workspace.language(language)
    options.refuse_two_sources(words["silhouette"], file, row, label, as_written=as_written)
    description = options.describe(words, label, file)
    if file is not None:
        priced = consign_file(
            workspace, file, row=row, as_of=as_of, patience_days=patience, described=description
        )
    else:
        priced = consign_descriptions(
            workspace, (description,), as_of=as_of, patience_days=patience, as_written=as_written
        )
    outputs.refuse_figure_of_several(len(priced))
    show_answer(
        priced,
        consignments_sheet,
        as_json=outputs.as_json,
        document=itemgetter(0) if file is None or row is not None else None,
        most_rows=len(priced),
    )
    album = album_of(workspace, [one.pair for one in priced], file=file, row=row, as_of=as_of)
    if tickets is not None:
        from pipeline.answers.consignment.tickets import asks_of_file, make_tickets
        from reports.consignment.tickets import tickets_page
        from reports.photographs import ON_A_TICKET

        market = workspace.market
        asks = [None] * len(priced) if file is None else asks_of_file(file, market, row=row, as_of=as_of)
        made = make_tickets(priced, asks, market, venue)
        small = [next(iter(album.photographs(one.pair, longest=ON_A_TICKET, most=1)), None) for one in priced]
        outputs.write(
            tickets_page(made, market.tickets, business=workspace.business, pictures=small, language=phrases),
            tickets,
        )
        unpriced = sum(ticket.price is None for ticket in made)
        if unpriced:
            say(
                f"without a price: {formats.counted(unpriced, 'ticket')}, to write by hand",
                err=outputs.as_json,
            )
    if outputs.keeps:
        from pipeline.answers.outcomes.keep import keep_consignments

        outputs.say_kept(keep_consignments(workspace, priced, kept_at=clock.now()))
    if outputs.drawn:
        from pipeline.phrases.languages import own_terms
        from reports.consignment.page import MOST_PICTURES, consignment_figures, consignment_page
        from reports.photographs import ON_A_PAGE

        def sheet(one: "Consignment", /, *, business: str) -> str:
            pictures = album.photographs(one.pair, longest=ON_A_PAGE, most=MOST_PICTURES)
            return consignment_page(
                one, business=business, house=house, venue=venue, pictures=pictures, language=phrases
            )

        house = workspace.market.business
        terms = own_terms(workspace.market, phrases)
        if terms is not None:
            house = house.model_copy(update={"terms": terms})
        elif house.terms and outputs.page is not None:
            say(
                f"the terms on the sheet are not in this language: write `terms` under [phrases.{phrases.tag}]",
                err=outputs.as_json,
            )
        outputs.draw(priced, sheet, consignment_figures)
    outputs.say_unshown(album)
