"""Say what became of the values, asks and bids that were kept."""

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.answers.outcomes.profit import By
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace

GROUPED_BY = ("month", "venue", "era", "silhouette")
"""What the profits can be summed by."""


@options.command()
@click.option(
    "--stock",
    type=options.FILE,
    help='Of this stock list (a map with holds = "stock"); left out, of all lists that `pairband ingest` read.',
)
@click.option(
    "--by",
    type=click.Choice(GROUPED_BY),
    default="month",
    help="What profits are summed by; left out, the month of the sale.",
)
@click.option(
    "--pairs", type=options.OUTPUT, help="Write every pair that was sold, cent by cent, to this file (CSV)."
)
@options.on
@options.outputs(
    csv="Write every kept value to this file (CSV).", excel="Write every kept value to this file (Excel)."
)
def outcomes(
    stock: Path | None,
    by: "By",
    pairs: Path | None,
    as_of: date,
    workspace: "Workspace",
    outputs: "Outputs",
) -> None:
    """Say what became of the values, asks and bids that you kept, and what sold pairs have left you. Writes no record.

    A value is judged by the first sale of that pair after it was said: by its stock number, or of a lot by venue, sale
    and lot number. Profits are of the sold pairs of your stock lists, after fees, freight, tax, cost and work.

    Example: pairband outcomes --by venue --csv outcomes.csv
    """
    from pipeline.answers.outcomes.profit_tables import accounts_table
    from pipeline.answers.outcomes.run import judge_ledger
    from pipeline.answers.outcomes.tables import outcomes_sheet, values_table

    found = judge_ledger(workspace, as_of=as_of, stock=stock, by=by)
    if found.profits is None and pairs is not None:
        raise click.BadParameter("no stock list is known: name one with --stock", param_hint="--pairs")
    show_answer(found, outcomes_sheet, as_json=outputs.as_json)
    outputs.tabulate(values_table(found))
    if found.profits is not None and pairs is not None:
        accounts = accounts_table(found.profits, found.currency)
        replace(outputs, csv=pairs, excel=None).tabulate(accounts)
    if outputs.drawn:
        from reports.outcomes.page import outcomes_figures, outcomes_page

        outputs.draw([found], outcomes_page, outcomes_figures)
