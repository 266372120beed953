"""Show the market."""

from datetime import date
from typing import TYPE_CHECKING

from pipeline import options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace


@options.command("market")
@options.on
@options.outputs()
def view(
    as_of: date,
    workspace: "Workspace",
    outputs: "Outputs",
) -> None:
    """Show what the market did, how busy the venues were, and what each attribute is worth. Writes no record.

    Example: pairband market --page market.html
    """
    from pipeline.answers.market_view.run import view_ledger
    from pipeline.answers.market_view.tables import market_sheet
    from pipeline.terminal.progress import progress

    with progress("viewing the market", quiet=outputs.as_json):
        viewed = view_ledger(workspace, as_of=as_of)
    show_answer(viewed, market_sheet, as_json=outputs.as_json, most_rows=len(viewed.attribute_values))
    if outputs.drawn:
        from reports.market_view.page import market_figures, market_page

        outputs.draw([viewed], market_page, market_figures)
