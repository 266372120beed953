"""Say what restoring does to a price, and what to restore next."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import clock, options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
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
@options.outputs(csv="Write every piece of work to this file (CSV).", keeps=True)
def restore(
    file: Path | None,
    hours: float | None,
    money: float | None,
    venue: str | None,
    as_of: date,
    workspace: "Workspace",
    outputs: "Outputs",
) -> None:
    """Say what each treatment does to a price in total, and which pairs of the stock to restore next. Writes no record.

    FILE is your stock list (a map with holds = "stock"); without it the pairs are those of the ledger's latest list,
    and where it has none only the effects are shown.

    Example: pairband restore exports/stock.csv --hours 20 --money 150 --page restore.html
    """
    from pipeline.answers.restoration.run import restore_stock
    from pipeline.answers.restoration.tables import restoration_document, restoration_sheet, works_table

    report = restore_stock(workspace, file, as_of=as_of, venue=venue, hours=hours, money=money)
    show_answer(report, restoration_sheet, as_json=outputs.as_json, document=restoration_document)
    outputs.tabulate(works_table(report))
    if outputs.keeps:
        from pipeline.answers.outcomes.keep import keep_works

        outputs.say_kept(keep_works(workspace, report, kept_at=clock.now()))
    if outputs.drawn:
        from reports.restoration.page import restoration_figures, restoration_page

        outputs.draw([report], restoration_page, restoration_figures)
