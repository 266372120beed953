"""Bid on lots: upcoming ones, or past ones to test the rule."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from pipeline import clock, options
from pipeline.glossary import meaning
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
    from pipeline.workspace import Workspace


class _Rule(NamedTuple):
    """How the owner buys, where it differs from the market file."""

    margin: float | None
    confidence: float | None
    sells_at: str | None


@options.command()
@click.argument("file", type=options.FILE, required=False)
@click.option("--backtest", is_flag=True, help="Bid on past lots instead, with what was known on each day.")
@click.option(
    "--margin",
    type=options.Finite(0, 0.95),
    help=f"{meaning('margin')} By default the market file's.",
)
@click.option(
    "--confidence",
    type=options.Finite(0.5, 0.99),
    help="The chance of keeping it; by default the market file's.",
)
@click.option("--sells-at", type=options.WORDS, help="The venue of the resale; by default the market file's.")
@options.odds_in_list
@click.option(
    "--bid-sheet",
    type=options.OUTPUT,
    help="Write a sheet to take to the sales there (HTML, to print): one line a lot, in order of closing.",
)
@options.on
@options.outputs(
    "Write the page to this file (HTML); it sorts and filters.",
    csv="Write all lots to this file (CSV).",
    excel="Write all lots to this file (Excel).",
    keeps=True,
)
def lots(
    file: Path | None,
    backtest: bool,
    margin: float | None,
    confidence: float | None,
    sells_at: str | None,
    era_odds: str | None,
    bid_sheet: Path | None,
    as_of: date,
    workspace: "Workspace",
    outputs: "Outputs",
) -> None:
    """Say how far to bid on upcoming lots, and rank them by what they should gain. Writes no record.

    FILE holds the upcoming lots (a map with holds = "lots").

    Example: pairband lots exports/upcoming_lots.csv --page lots.html --excel lots.xlsx
    """
    rule = _Rule(margin, confidence, sells_at)
    if backtest:
        if file is not None:
            raise click.BadParameter(
                "--backtest takes past lots from the ledger, not from a file", param_hint="FILE"
            )
        if outputs.figure is not None:
            raise click.BadParameter("the page of a back-test has no figure", param_hint="--figure")
        if bid_sheet is not None:
            raise click.BadParameter("a sheet is of lots to come: name their file", param_hint="--bid-sheet")
        if era_odds is not None:
            raise click.BadParameter("it is of lots to come: name their file", param_hint="--era-odds")
        _bid_on_past_lots(rule, workspace, outputs, as_of=as_of)
        return
    if file is None:
        raise click.BadParameter("name a file of lots, or --backtest", param_hint="FILE")
    from pipeline.answers.lots.run import value_lot_file
    from pipeline.answers.lots.tables import lots_document, lots_sheet, lots_table

    listed = value_lot_file(
        workspace,
        file,
        as_of=as_of,
        **rule._asdict(),
        by_odds=options.by_odds(era_odds),
    )
    show_answer(listed, lots_sheet, as_json=outputs.as_json, document=lots_document)
    outputs.tabulate(lots_table(listed))
    if outputs.keeps:
        from pipeline.answers.outcomes.keep import keep_lots

        outputs.say_kept(keep_lots(workspace, listed, kept_at=clock.now()))
    if outputs.drawn:
        from reports.lots.page import lots_figures, lots_page

        outputs.draw([listed], lots_page, lots_figures)
    if bid_sheet is not None:
        from reports.lots.bid_sheet import bid_sheet_page

        outputs.write(bid_sheet_page(listed, business=workspace.business), bid_sheet)


def _bid_on_past_lots(rule: _Rule, workspace: "Workspace", outputs: "Outputs", *, as_of: date) -> None:
    from pipeline.answers.backtest.run import backtest_ledger
    from pipeline.answers.backtest.tables import backtest_document, backtest_sheet, won_table
    from pipeline.terminal.progress import progress

    with progress("bidding on past lots", quiet=outputs.as_json) as on_progress:
        tested = backtest_ledger(workspace, as_of=as_of, **rule._asdict(), on_progress=on_progress)
    show_answer(tested, backtest_sheet, as_json=outputs.as_json, document=backtest_document)
    outputs.tabulate(won_table(tested))
    if outputs.drawn:
        from reports.backtest.page import backtest_page

        outputs.draw([tested], backtest_page)
