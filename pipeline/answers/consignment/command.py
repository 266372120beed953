"""Price consignments."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options

if TYPE_CHECKING:
    from pipeline.workspace import Workspace


@options.command()
@options.pair
@options.label
@options.file_of_pairs
@options.row
@click.option(
    "--patience",
    type=click.IntRange(1, 730),
    help="Days to wait at a fixed price; else the market file's.",
)
@options.on
@click.option("--page", type=options.OUTPUT, help="Write the consignor's sheet there (HTML).")
@options.as_written
@options.figure
@options.workspace
@options.as_json
def consign(
    label: str,
    file: Path | None,
    row: int | None,
    patience: int | None,
    as_of: date,
    page: Path | None,
    as_written: bool,
    figure: options.FigureFile | None,
    workspace: "Workspace",
    as_json: bool,
    **words: str | None,
) -> None:
    """Say what each venue should bring for a pair, to consignor and house, and what to ask. Writes no record.

    The page is a sheet for the consignor, without what the house keeps.

    Example: pairband consign --silhouette "Gannet Hi" --era first --grade 8 --page sheet.html
    """
    from pipeline.answers.consignment.run import consign_descriptions, consign_file, write_sheets
    from pipeline.answers.consignment.tables import consignment_sheet, consignments_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    options.refuse_two_sources(words["silhouette"], file, row, label, as_written=as_written)
    description = options.describe(words, label, file)
    if file is not None:
        priced = consign_file(
            workspace, file, row=row, as_of=as_of, patience_days=patience, described=description
        )
    else:
        priced = consign_descriptions(
            workspace, (description,), as_of=as_of, patience_days=patience, as_written=as_written
        )
    figure = options.of_one_pair(figure, len(priced))
    if as_json:
        show_json(priced[0] if file is None or row is not None else list(priced))
    elif len(priced) == 1:
        show_sheet(consignment_sheet(priced[0]))
    elif priced:
        show_sheet(consignments_sheet(priced), most_rows=len(priced))
    if page is not None:
        for path in write_sheets(priced, page, workspace.business):
            options.say_written(path, as_json=as_json)
    if figure is not None:
        from reports.consignment.page import consignment_figures

        options.write_the_figure(consignment_figures(priced[0]), figure, as_json=as_json)
