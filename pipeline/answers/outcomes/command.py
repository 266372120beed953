"""Say what became of the values, asks and bids that were kept."""

from datetime import date
from typing import TYPE_CHECKING

from pipeline import options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace


@options.command()
@options.on
@options.outputs(
    "", csv="Write every kept value to this file (CSV).", excel="Write every kept value to this file (Excel)."
)
def outcomes(as_of: date, workspace: "Workspace", outputs: "Outputs") -> None:
    """Say what became of the values, asks and bids that you kept with --keep. Writes no record.

    A value is judged by the first sale of that pair after it was said: by its stock number, or of a lot by venue, sale
    and lot number.

    Example: pairband outcomes --csv outcomes.csv
    """
    from pipeline.answers.outcomes.run import judge_ledger
    from pipeline.answers.outcomes.tables import outcomes_sheet, values_table

    found = judge_ledger(workspace, as_of=as_of)
    show_answer(found, outcomes_sheet, as_json=outputs.as_json)
    outputs.tabulate(values_table(found))
