"""Read exports, and print what could not be read."""

from pathlib import Path

import click

from pipeline import clock, options
from pipeline.outputs import show_answer
from pipeline.streams import show_document


@options.command()
@click.argument("files", type=options.FILE, nargs=-1, required=True)
@click.option("--map", "map_name", type=options.WORDS, help="The export map to use for all of them.")
@click.option(
    "--skip-unreadable", is_flag=True, help="Leave out files that cannot be read, and read the others."
)
@options.market
@options.ledger
@options.as_json
def ingest(
    files: tuple[Path, ...],
    map_name: str | None,
    skip_unreadable: bool,
    market: Path,
    ledger: Path,
    as_json: bool,
) -> None:
    """Read exports into the ledger, in any order. Reading a file again changes nothing.

    Example: pairband ingest exports/*.csv
    """
    from pipeline.answers.ingest.run import ingest_exports
    from pipeline.answers.ingest.tables import ingest_sheet
    from pipeline.answers.understood.tables import account_sheet
    from pipeline.terminal.progress import progress
    from pipeline.terminal.sheet import show_sheet

    with progress("reading exports", quiet=as_json) as on_progress:
        run = ingest_exports(
            ledger,
            market,
            files,
            map_name=map_name,
            skip_unreadable=skip_unreadable,
            loaded_at=clock.now(),
            on_progress=on_progress,
        )
    if not as_json:
        for account in run.understood:
            show_sheet(account_sheet(account), limits=False)
    show_answer(run, ingest_sheet, as_json=as_json, limits=False)


@options.command()
@options.ledger
def quarantine(ledger: Path) -> None:
    """Print the quarantined rows as CSV that is safe to open in a spreadsheet.

    Example: pairband quarantine > quarantine.csv
    """
    from pipeline.answers.ingest.run import quarantined

    show_document(quarantined(ledger))
