"""Bid on lots: upcoming ones, or past ones to test the rule."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from pipeline import options

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


class _Rule(NamedTuple):
    """How the owner buys, where it differs from the market file."""

    margin: float | None
    confidence: float | None
    sells_at: str | None


class _Files(NamedTuple):
    """The files that are asked for."""

    page: Path | None
    csv: Path | None
    excel: Path | None


@options.command()
@click.argument("file", type=options.FILE, required=False)
@click.option("--backtest", is_flag=True, help="Bid on past lots instead, with what was known on each day.")
@click.option(
    "--margin",
    type=options.Finite(0, 0.95),
    help="Share of the resale to keep as margin; by default the market file's.",
)
@click.option(
    "--confidence",
    type=options.Finite(0.5, 0.99),
    help="The chance of keeping it; by default the market file's.",
)
@click.option("--sells-at", type=options.WORDS, help="The venue of the resale; by default the market file's.")
@options.on
@click.option("--page", type=options.OUTPUT, help="Write the page to this file (HTML); it sorts and filters.")
@click.option("--csv", type=options.OUTPUT, help="Write all lots to this file (CSV).")
@click.option("--excel", type=options.OUTPUT, help="Write all lots to this file (Excel).")
@options.figure
@options.workspace
@options.as_json
def lots(
    file: Path | None,
    backtest: bool,
    margin: float | None,
    confidence: float | None,
    sells_at: str | None,
    as_of: date,
    page: Path | None,
    csv: Path | None,
    excel: Path | None,
    figure: options.FigureFile | None,
    workspace: "Workspace",
    as_json: bool,
) -> None:
    """Say how far to bid on upcoming lots, and rank them by what they should gain. Writes no record.

    FILE holds the upcoming lots (a map with holds = "lots").

    Example: pairband lots exports/upcoming_lots.csv --page lots.html --excel lots.xlsx
    """
    rule, files = _Rule(margin, confidence, sells_at), _Files(page, csv, excel)
    if backtest:
        if file is not None:
            raise click.BadParameter(
                "--backtest takes past lots from the ledger, not from a file", param_hint="FILE"
            )
        if figure is not None:
            raise click.BadParameter("the page of a back-test has no figure", param_hint="--figure")
        _bid_on_past_lots(rule, files, workspace, as_of=as_of, as_json=as_json)
        return
    if file is None:
        raise click.BadParameter("name a file of lots, or --backtest", param_hint="FILE")
    from pipeline.answers.lots.run import value_lot_file, write_lot_files
    from pipeline.answers.lots.tables import lots_document, lots_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    listed = value_lot_file(workspace, file, as_of=as_of, **rule._asdict())
    show_json(lots_document(listed)) if as_json else show_sheet(lots_sheet(listed))
    for path in write_lot_files(listed, workspace.business, **files._asdict()):
        options.say_written(path, as_json=as_json)
    if figure is not None:
        from reports.lots.page import lots_figures

        options.write_the_figure(lots_figures(listed), figure, as_json=as_json)


def _bid_on_past_lots(
    rule: _Rule, files: _Files, workspace: "Workspace", *, as_of: date, as_json: bool
) -> None:
    from pipeline.answers.backtest.run import backtest_ledger, write_backtest_files
    from pipeline.answers.backtest.tables import backtest_document, backtest_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress
    from pipeline.terminal.sheet import show_sheet

    with progress("bidding on past lots", quiet=as_json) as on_progress:
        tested = backtest_ledger(workspace, as_of=as_of, **rule._asdict(), on_progress=on_progress)
    show_json(backtest_document(tested)) if as_json else show_sheet(backtest_sheet(tested))
    for path in write_backtest_files(tested, workspace.business, **files._asdict()):
        options.say_written(path, as_json=as_json)
