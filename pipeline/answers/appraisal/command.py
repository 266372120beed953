"""Value pairs: described in words, in a file, or with their era in doubt."""

from datetime import date
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import clock, options
from pipeline.outputs import show_answer
from pipeline.streams import can_ask

if TYPE_CHECKING:
    from pipeline.answers.appraisal.appraisal import Appraisal
    from pipeline.answers.era_odds.answer import EraInDoubt
    from pipeline.outputs import Outputs
    from pipeline.pictures.album import Album
    from pipeline.workspace import Workspace


@options.command()
@options.pair
@click.option("--venue", type=options.WORDS, help="Where it would be sold; left out, anywhere.")
@options.label
@options.file_of_pairs
@options.row
@options.on
@options.as_written
@click.option(
    "--era-odds",
    type=options.WORDS,
    help="An era in doubt: 'first=0.7,second=0.3', or 'sales' for odds learned from your records.",
)
@click.option(
    "--lasting", type=options.WORDS, help="With --era-odds sales: board or foam, or your word for it."
)
@click.option("--factory-code", type=options.WORDS, help="With --era-odds sales: the code on the label.")
@click.option("--stamp", type=options.WORDS, help="With --era-odds sales: the label's '03/86-06/86 KX2'.")
@click.option(
    "--made", type=options.WORDS, help="With --era-odds sales: when it is said to be of, such as 1980s."
)
@click.option(
    "--at-price",
    type=options.Finite(0, options.MOST_MONEY),
    help="With --era-odds: the price at which you may take the pair.",
)
@options.outputs(keeps=True)
def appraise(
    label: str,
    file: Path | None,
    row: int | None,
    as_written: bool,
    era_odds: str | None,
    at_price: float | None,
    lasting: str | None,
    factory_code: str | None,
    stamp: str | None,
    made: str | None,
    as_of: date,
    workspace: "Workspace",
    outputs: "Outputs",
    **words: str | None,
) -> None:
    """Value a pair: median and bands, what each attribute does, the nearest sales. Writes no record.

    In a terminal, what is left out is asked for.

    Example: pairband appraise --silhouette "Gannet Hi" --era first --size "UK 9" --grade 8 --page pair.html
    """
    from pipeline.answers.appraisal.run import appraise_descriptions, appraise_file
    from pipeline.answers.era_odds.answer import FROM_SALES
    from pipeline.answers.era_odds.run import appraise_in_doubt
    from pipeline.market.seen import SeenWords

    seen = SeenWords(lasting, factory_code, stamp, made)
    learns = era_odds is not None and era_odds.strip().casefold() == FROM_SALES
    if seen.given and not learns:
        raise click.BadParameter("it tells the era: add --era-odds sales", param_hint=seen.given[0])
    if stamp is not None and made is not None:
        raise click.BadParameter(
            "the label's date goes before it: leave one of them out", param_hint="--made"
        )
    options.refuse_two_sources(words["silhouette"], file, row, label, as_written=as_written)
    _refuse_odds_that_do_not_go_together(words, file, row, era_odds, at_price)
    if file is None:
        if not outputs.as_json and era_odds is None and can_ask():
            from pipeline.terminal.questions import ask_for_the_rest

            words = ask_for_the_rest(words, workspace.market)
        description = options.describe(words, label)
    else:
        description = options.describe(words, label, file)
    if era_odds is not None:
        doubt = appraise_in_doubt(
            workspace,
            description,
            era_odds,
            as_of=as_of,
            seen=seen,
            file=file,
            row=row,
            at_price=at_price,
            as_written=as_written,
        )
        _show_doubt(doubt, outputs)
        return
    if file is not None:
        found = appraise_file(workspace, file, row=row, as_of=as_of, described=description)
    else:
        found = appraise_descriptions(workspace, (description,), as_of=as_of, as_written=as_written)
    _show_appraisals(found, outputs, one=file is None or row is not None)
    if outputs.drawn:
        from pipeline.answers.appraisal.run import album_of

        album = album_of(workspace, [one.pair for one in found], file=file, row=row, as_of=as_of)
        _draw_appraisals(found, outputs, album)


def _refuse_odds_that_do_not_go_together(
    words: dict[str, str | None],
    file: Path | None,
    row: int | None,
    era_odds: str | None,
    at_price: float | None,
) -> None:
    if era_odds is not None and words["era"] is not None:
        raise click.BadParameter("give the era or its odds, not both", param_hint="--era-odds")
    if at_price is not None and era_odds is None:
        raise click.BadParameter("--at-price needs --era-odds", param_hint="--at-price")
    if file is not None and era_odds is not None and row is None:
        raise click.BadParameter("--era-odds is of one pair: name its --row", param_hint="--era-odds")


def _show_appraisals(appraisals: "tuple[Appraisal, ...]", outputs: "Outputs", *, one: bool) -> None:
    from pipeline.answers.appraisal.tables import appraisals_sheet

    outputs.refuse_figure_of_several(len(appraisals))
    show_answer(
        appraisals,
        appraisals_sheet,
        as_json=outputs.as_json,
        document=itemgetter(0) if one else None,
        most_rows=len(appraisals),
    )
    if outputs.keeps:
        from pipeline.answers.outcomes.keep import keep_appraisals

        outputs.say_kept(keep_appraisals(outputs.workspace, appraisals, kept_at=clock.now()))


def _draw_appraisals(appraisals: "tuple[Appraisal, ...]", outputs: "Outputs", album: "Album") -> None:
    from reports.appraisal.page import MOST_PICTURES, appraisal_figures, appraisal_page
    from reports.photographs import ON_A_PAGE

    def page(appraisal: "Appraisal", /, *, business: str) -> str:
        pictures = album.photographs(appraisal.pair, longest=ON_A_PAGE, most=MOST_PICTURES)
        return appraisal_page(appraisal, business=business, pictures=pictures)

    outputs.draw(appraisals, page, appraisal_figures)
    outputs.say_unshown(album)


def _show_doubt(doubt: "EraInDoubt", outputs: "Outputs") -> None:
    from pipeline.answers.era_odds.tables import era_odds_sheet

    show_answer(doubt, era_odds_sheet, as_json=outputs.as_json)
    if outputs.drawn:
        from reports.era_odds.page import era_odds_figures, era_odds_page

        outputs.draw([doubt], era_odds_page, era_odds_figures)
