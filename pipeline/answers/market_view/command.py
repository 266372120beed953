"""Show the market."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import options

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


@options.command("market")
@options.on
@options.page
@options.figure
@options.workspace
@options.as_json
def view(
    as_of: date,
    page: Path | None,
    figure: options.FigureFile | None,
    workspace: "Workspace",
    as_json: bool,
) -> None:
    """Show what the market did, how busy the venues were, and what each attribute is worth. Writes no record.

    Example: pairband market --page market.html
    """
    from pipeline.answers.market_view.run import view_ledger
    from pipeline.answers.market_view.tables import market_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress
    from pipeline.terminal.sheet import MOST_ROWS, show_sheet

    with progress("viewing the market", quiet=as_json):
        viewed = view_ledger(workspace, as_of=as_of)
    if as_json:
        show_json(viewed)
    else:
        show_sheet(market_sheet(viewed), most_rows=max(MOST_ROWS, len(viewed.attribute_values)))
    if page is not None:
        from reports.market_view.page import write_market

        options.say_written(write_market(viewed, page, business=workspace.business), as_json=as_json)
    if figure is not None:
        from reports.market_view.page import market_figures

        options.write_the_figure(market_figures(viewed), figure, as_json=as_json)
