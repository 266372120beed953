"""Price consignments."""

from datetime import date
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.outputs import show_answer

if TYPE_CHECKING:
    from pipeline.outputs import Outputs
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
@options.as_written
@options.outputs("Write the consignor's sheet there (HTML).")
def consign(
    label: str,
    file: Path | None,
    row: int | None,
    patience: int | None,
    as_of: date,
    as_written: bool,
    workspace: "Workspace",
    outputs: "Outputs",
    **words: str | None,
) -> None:
    """Say what each venue should bring for a pair, to consignor and house, and what to ask. Writes no record.

    The page is a sheet for the consignor, without what the house keeps.

    Example: pairband consign --silhouette "Gannet Hi" --era first --grade 8 --page sheet.html
    """
    from pipeline.answers.consignment.run import consign_descriptions, consign_file
    from pipeline.answers.consignment.tables import consignments_sheet

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
    outputs.refuse_figure_of_several(len(priced))
    show_answer(
        priced,
        consignments_sheet,
        as_json=outputs.as_json,
        document=itemgetter(0) if file is None or row is not None else None,
        most_rows=len(priced),
    )
    if outputs.drawn:
        from reports.consignment.page import consignment_figures, consignment_page

        outputs.draw(priced, consignment_page, consignment_figures)
