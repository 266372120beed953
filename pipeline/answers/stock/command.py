"""Value the stock: each pair, groups of them, and all together."""

from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import clock, options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace

GROUPED_BY = ("era", "silhouette", "maker", "grade")
"""The attributes that the stock can be summed by."""


@options.command()
@click.argument("file", type=options.FILE, required=False)
@click.option(
    "--by",
    type=click.Choice(GROUPED_BY),
    default="era",
    help="What the groups are summed by; left out, era.",
)
@options.odds_in_list
@options.on
@options.outputs(
    csv="Write every pair to this file (CSV).", excel="Write every pair to this file (Excel).", keeps=True
)
def stock(
    file: Path | None, by: str, era_odds: str | None, as_of: date, workspace: "Workspace", outputs: "Outputs"
) -> None:
    """Value the stock: each pair, groups of them, and all together with one joint band. Writes no record.

    Without FILE the stock is that of the ledger: the latest list of each map that `pairband ingest` read. FILE is
    another stock list (a map with holds = "stock"), to try. A pair whose stock number was sold since it was bought is
    set apart, with what it brought; if the sale is undone, the pair is back.

    Example: pairband stock exports/stock.csv --by silhouette --page stock.html
    """
    from pipeline.answers.stock.run import value_stock
    from pipeline.answers.stock.tables import pairs_table, stock_sheet

    found = value_stock(workspace, file, as_of=as_of, by=by, by_odds=options.by_odds(era_odds))
    show_answer(found, stock_sheet, as_json=outputs.as_json, most_rows=found.pairs.height)
    outputs.tabulate(pairs_table(found))
    if outputs.keeps:
        from pipeline.answers.outcomes.keep import keep_stock

        outputs.say_kept(keep_stock(workspace, found, kept_at=clock.now()))
    if outputs.drawn:
        from pipeline.answers.stock.run import stock_histories, thumbnails
        from reports.stock.page import stock_drawings, stock_page

        album = workspace.album([*found.pairs["stock_ref"], *found.sold["stock_ref"]])
        pictures = thumbnails(found, album) if outputs.page is not None else ()
        events = stock_histories(workspace, found) if outputs.page is not None else None
        outputs.draw([found], partial(stock_page, pictures=pictures, events=events), stock_drawings)
        outputs.say_unshown(album)
