"""Say what changed of the values of pairs, and why."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace


@options.command()
@click.argument("file", type=options.FILE, required=False)
@options.since
@click.option(
    "--earlier",
    "earlier_list",
    type=options.FILE,
    help="The list as it was then; left out, that of the ledger of that day.",
)
@options.on
@options.outputs(csv="Write every pair to this file (CSV).", excel="Write every pair to this file (Excel).")
def changed(
    file: Path | None,
    since: date | None,
    earlier_list: Path | None,
    as_of: date,
    workspace: "Workspace",
    outputs: "Outputs",
) -> None:
    """Say what changed of the values of pairs since an earlier day, and why. Writes no record.

    Without FILE the pairs are the stock of the ledger; FILE is another list (a map with holds = "stock" or "lots"). The
    change is split into the market, new sales, records put right, the market file, and the pair itself; the parts add
    up to it.

    Example: pairband changed --since 2026-07-01 --page changed.html
    """
    from pipeline.answers.changed.run import explain_changes
    from pipeline.answers.changed.tables import changed_sheet, pairs_table
    from pipeline.terminal.progress import progress

    if since is not None and since > as_of:
        raise click.BadParameter(f"it is after the day of valuation, {as_of}.", param_hint="--since")
    with progress("comparing", quiet=outputs.as_json) as on_progress:
        found = explain_changes(
            workspace, file, since=since, earlier_list=earlier_list, as_of=as_of, on_progress=on_progress
        )
    show_answer(found, changed_sheet, as_json=outputs.as_json)
    outputs.tabulate(pairs_table(found))
    if outputs.drawn:
        from reports.changed.page import changed_drawings, changed_page

        outputs.draw([found], changed_page, changed_drawings)
