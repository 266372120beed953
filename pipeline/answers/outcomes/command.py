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
    help='Your stock list (a map with holds = "stock"): what each pair of it that was sold has left you.',
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
    "", csv="Write every kept value to this file (CSV).", excel="Write every kept value to this file (Excel)."
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
    and lot number. Profits are of the pairs of your stock list that were sold, after cost, fees, freight, tax and work.

    Example: pairband outcomes --stock exports/stock.csv --by venue --csv outcomes.csv
    """
    from pipeline.answers.outcomes.profit_tables import accounts_table
    from pipeline.answers.outcomes.run import judge_ledger
    from pipeline.answers.outcomes.tables import outcomes_sheet, values_table

    if stock is None and pairs is not None:
        raise click.BadParameter("name the stock list whose pairs were sold", param_hint="--stock")
    found = judge_ledger(workspace, as_of=as_of, stock=stock, by=by)
    show_answer(found, outcomes_sheet, as_json=outputs.as_json)
    outputs.tabulate(values_table(found))
    if found.profits is not None and pairs is not None:
        accounts = accounts_table(found.profits, found.currency)
        replace(outputs, csv=pairs, excel=None).tabulate(accounts)
