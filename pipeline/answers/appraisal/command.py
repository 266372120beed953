"""Value pairs: described in words, in a file, or with their era in doubt."""

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from pipeline import options

if TYPE_CHECKING:
    from pipeline.answers.appraisal.appraisal import Appraisal
    from pipeline.market.subject import Description
    from pipeline.workspace import Workspace


class _Asked(NamedTuple):
    """What is asked of an appraisal besides the pair."""

    as_of: date
    page: Path | None
    figure: options.FigureFile | None
    workspace: "Workspace"
    as_json: bool


@options.command()
@options.pair
@click.option("--venue", type=options.WORDS, help="Where it would be sold; left out, anywhere.")
@options.label
@options.file_of_pairs
@options.row
@options.on
@options.page
@options.as_written
@click.option(
    "--era-odds",
    type=options.WORDS,
    help="An era in doubt: 'first=0.7,second=0.3', or 'sales' for how they went.",
)
@click.option(
    "--at-price",
    type=options.Finite(0, options.MOST_MONEY),
    help="With --era-odds: the price at which you may take the pair.",
)
@options.figure
@options.workspace
@options.as_json
def appraise(
    label: str,
    file: Path | None,
    row: int | None,
    as_written: bool,
    era_odds: str | None,
    at_price: float | None,
    as_of: date,
    page: Path | None,
    figure: options.FigureFile | None,
    workspace: "Workspace",
    as_json: bool,
    **words: str | None,
) -> None:
    """Value a pair: median and bands, what each attribute does, the nearest sales. Writes no record.

    In a terminal, what is left out is asked for.

    Example: pairband appraise --silhouette "Gannet Hi" --era first --size "UK 9" --grade 8 --page pair.html
    """
    options.refuse_two_sources(words["silhouette"], file, row, label, as_written=as_written)
    _refuse_odds_that_do_not_go_together(words, file, row, era_odds, at_price)
    asked = _Asked(as_of, page, figure, workspace, as_json)
    if file is None:
        description = _described(words, label, asked, in_doubt=era_odds is not None)
    else:
        description = options.describe(words, label, file)
    if era_odds is not None:
        _value_in_doubt(description, file, row, era_odds, at_price, asked, as_written=as_written)
    elif file is not None:
        _value_file(file, row, description, asked)
    else:
        _value_description(description, asked, as_written=as_written)


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


def _described(words: dict[str, str | None], label: str, asked: _Asked, *, in_doubt: bool) -> "Description":
    """Return the pair in the owner's words; in a terminal, what was left out is asked for."""
    if not asked.as_json and not in_doubt and sys.stdin.isatty():
        from pipeline.terminal.questions import ask_for_the_rest

        words = ask_for_the_rest(words, asked.workspace.market)
    return options.describe(words, label)


def _value_description(description: "Description", asked: _Asked, *, as_written: bool) -> None:
    from pipeline.answers.appraisal.run import appraise_descriptions

    appraisals = appraise_descriptions(
        asked.workspace, (description,), as_of=asked.as_of, as_written=as_written
    )
    _answer(appraisals, asked, one=True)


def _value_file(file: Path, row: int | None, description: "Description", asked: _Asked) -> None:
    from pipeline.answers.appraisal.run import appraise_file

    appraisals = appraise_file(asked.workspace, file, row=row, as_of=asked.as_of, described=description)
    _answer(appraisals, asked, one=row is not None)


def _answer(appraisals: "tuple[Appraisal, ...]", asked: _Asked, *, one: bool) -> None:
    """Print appraisals, and write the pages and the figure that are asked for."""
    figure = options.of_one_pair(asked.figure, len(appraisals))
    if asked.as_json:
        from pipeline.terminal.console import show_json

        show_json(appraisals[0] if one else list(appraisals))
    else:
        from pipeline.answers.appraisal.tables import appraisal_sheet, appraisals_sheet
        from pipeline.terminal.sheet import show_sheet

        if len(appraisals) == 1:
            show_sheet(appraisal_sheet(appraisals[0]))
        elif appraisals:
            show_sheet(appraisals_sheet(appraisals), most_rows=len(appraisals))
    if asked.page is not None:
        from pipeline.answers.report.pages import write_pages

        for path in write_pages(appraisals, asked.page, asked.workspace.business):
            options.say_written(path, as_json=asked.as_json)
    if figure is not None:
        from reports.appraisal.page import appraisal_figures

        options.write_the_figure(appraisal_figures(appraisals[0]), figure, as_json=asked.as_json)


def _value_in_doubt(
    described: "Description",
    file: Path | None,
    row: int | None,
    odds: str,
    at_price: float | None,
    asked: _Asked,
    *,
    as_written: bool,
) -> None:
    """Do `appraise --era-odds`: print, and write the page and the figure where they are asked for."""
    from pipeline.answers.era_odds.run import appraise_in_doubt
    from pipeline.answers.era_odds.tables import era_odds_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    doubt = appraise_in_doubt(
        asked.workspace,
        described,
        odds,
        as_of=asked.as_of,
        file=file,
        row=row,
        at_price=at_price,
        as_written=as_written,
    )
    show_json(doubt) if asked.as_json else show_sheet(era_odds_sheet(doubt))
    if asked.page is not None:
        from reports.era_odds.page import write_era_odds_page

        options.say_written(
            write_era_odds_page(doubt, asked.page, business=asked.workspace.business), as_json=asked.as_json
        )
    if asked.figure is not None:
        from reports.era_odds.page import era_odds_figures

        options.write_the_figure(era_odds_figures(doubt), asked.figure, as_json=asked.as_json)
