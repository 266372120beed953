"""List and show records."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline import clock, options
from pipeline.outputs import show_answer
from pipeline.streams import say

if TYPE_CHECKING:
    from pipeline.workspace import Workspace

MOST_LISTED = 40


@options.command()
@click.argument("record", type=options.WORDS, required=False)
@options.wanted_records
@click.option("--removed", is_flag=True, help="List the rows that you removed instead.")
@click.option(
    "--limit",
    type=click.IntRange(0, options.MOST_ROWS),
    help=f"How many at most; 0 for all. Left out, {MOST_LISTED} in the terminal and all in a file.",
)
@click.option("--csv", type=options.OUTPUT, help="Write the list to this file (CSV).")
@click.option(
    "--parquet",
    type=options.OUTPUT_FOLDER,
    help="Write all sales that a fit reads into this folder, a part a year, for `pairband fit --sales`.",
)
@options.workspace
@options.as_json
@options.details
def records(
    record: str | None,
    removed: bool,
    limit: int | None,
    csv: Path | None,
    parquet: Path | None,
    workspace: "Workspace",
    as_json: bool,
    **words: Any,
) -> None:
    """List records and search among them, or show one beside what its rows say. Changes nothing.

    RECORD is a record's id, or its first signs; or a stock number, for the history of that pair: bought, in your
    lists, offered, valued, sold and returned.

    Example: pairband records --silhouette "Gannet Hi" --since 2023-01-01 --not-in-fit
    """
    from pipeline.answers.records.run import (
        find_records,
        find_stock_number,
        removed_rows,
        show_pair,
        show_record,
        write_records,
    )
    from pipeline.answers.records.tables import (
        pair_sheet,
        record_sheet,
        records_sheet,
        records_table,
        removed_sheet,
        removed_table,
        written_sheet,
    )

    wanted = options.read_wanted(words)
    if record is not None:
        if removed or csv or parquet or limit is not None or not wanted.is_everything:
            raise click.UsageError("name a record, or say which records you look for: not both.")
        number = find_stock_number(workspace.ledger, record)
        if number is not None:
            pair = show_pair(workspace, number, as_of=clock.today())
            show_answer(pair, pair_sheet, as_json=as_json, limits=False)
            return
        one = show_record(workspace, record, as_of=clock.today())
        show_answer(one, record_sheet, as_json=as_json, limits=False)
        return
    if parquet is not None:
        if removed or csv or limit is not None or not wanted.is_everything:
            raise click.UsageError("--parquet writes all sales that a fit reads: leave the others out.")
        show_answer(write_records(workspace.ledger, parquet), written_sheet, as_json=as_json, limits=False)
        return
    currency = workspace.market.base_currency
    if removed:
        if not wanted.is_everything:
            raise click.UsageError("--removed lists all rows that you removed: leave the others out.")
        rows = removed_rows(workspace.ledger)
        show_answer(rows, lambda found: removed_sheet(found, currency), as_json=as_json, limits=False)
        shown = removed_table(rows, currency)
    else:
        usual = None if csv or as_json else MOST_LISTED
        first = usual if limit is None else limit or None
        found = find_records(workspace.ledger, workspace.market, wanted, first=first)
        show_answer(found, records_sheet, as_json=as_json, limits=False, most_rows=limit or 0)
        shown = records_table(found)
    if csv is not None:
        from reports.export import write_table

        for path in write_table(shown, csv=csv):
            say(f"wrote {path}", err=as_json)
