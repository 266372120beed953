"""Say what restoring does to a price, and what to restore next."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


@options.command()
@click.argument("file", type=options.FILE, required=False)
@click.option(
    "--hours",
    type=options.Finite(0, options.MOST_HOURS),
    help="Hours you have; by default the market file's.",
)
@click.option(
    "--money",
    type=options.Finite(0, options.MOST_MONEY),
    help="Money for materials; by default the market file's.",
)
@click.option("--venue", type=options.WORDS, help="Where they would be sold; by default the map's venue.")
@options.on
@options.page
@click.option("--csv", type=options.OUTPUT, help="Write every piece of work to this file (CSV).")
@options.figure
@options.workspace
@options.as_json
def restore(
    file: Path | None,
    hours: float | None,
    money: float | None,
    venue: str | None,
    as_of: date,
    page: Path | None,
    csv: Path | None,
    figure: options.FigureFile | None,
    workspace: "Workspace",
    as_json: bool,
) -> None:
    """Say what each treatment does to a price in total, and which pairs of the stock to restore next. Writes no record.

    FILE is your stock list (a map with holds = "stock"). Without it, only the effects are shown.

    Example: pairband restore exports/stock.csv --hours 20 --money 150 --page restore.html
    """
    from pipeline.answers.restoration.run import restore_stock, write_restoration
    from pipeline.answers.restoration.tables import restoration_document, restoration_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    report = restore_stock(workspace, file, as_of=as_of, venue=venue, hours=hours, money=money)
    show_json(restoration_document(report)) if as_json else show_sheet(restoration_sheet(report))
    for path in write_restoration(report, workspace.business, page=page, csv=csv):
        options.say_written(path, as_json=as_json)
    if figure is not None:
        from reports.restoration.page import restoration_figures

        options.write_the_figure(restoration_figures(report), figure, as_json=as_json)
