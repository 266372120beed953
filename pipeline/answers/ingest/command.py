"""Read exports, and print what could not be read."""

from datetime import date
from pathlib import Path

import click

from pipeline import clock, options
from pipeline.outputs import show_answer, wants_details
from pipeline.streams import can_ask, show_document


@options.command()
@click.argument("files", type=options.FILE, nargs=-1, required=True)
@click.option("--map", "map_name", type=options.WORDS, help="The export map to use for all of them.")
@click.option(
    "--skip-unreadable", is_flag=True, help="Leave out files that cannot be read, and read the others."
)
@click.option(
    "--replace",
    type=options.WORDS,
    metavar="NAME",
    help="The file is a new version of the file of that name that was read before, and takes its place.",
)
@click.option(
    "--add", is_flag=True, help="Keep all that was read before, also of files with the names of these."
)
@options.list_day
@options.market
@options.ledger
@options.as_json
@options.details
def ingest(
    files: tuple[Path, ...],
    map_name: str | None,
    skip_unreadable: bool,
    replace: str | None,
    add: bool,
    listed_on: date | None,
    market: Path,
    ledger: Path,
    as_json: bool,
) -> None:
    """Read exports into the ledger, in any order. Reading a file again changes nothing.

    A file that changed since takes the place of its earlier reading, and the run says what is new, changed and gone;
    a file of the same name from another period adds to it. Where that is unclear, you are asked. A stock list (a map
    with holds = "stock") is kept as the stock of its day.

    Example: pairband ingest exports/*.csv
    """
    from pipeline.answers.ingest.run import ingest_exports
    from pipeline.answers.ingest.tables import ingest_sheet
    from pipeline.answers.understood.tables import account_sheet
    from pipeline.ingest.replacement import Answer, Doubt, Wish
    from pipeline.terminal.progress import progress
    from pipeline.terminal.questions import ask_what_comes_again

    if replace is not None and add:
        raise click.BadParameter("say --replace or --add, not both", param_hint="--add")
    with progress("reading exports", quiet=as_json) as on_progress:

        def ask(doubt: Doubt) -> Answer | None:
            with on_progress.away():
                return ask_what_comes_again(doubt)

        run = ingest_exports(
            ledger,
            market,
            files,
            map_name=map_name,
            skip_unreadable=skip_unreadable,
            listed_on=listed_on,
            wish=Wish(replace, add, ask if can_ask() and not as_json else None),
            loaded_at=clock.now(),
            on_progress=on_progress,
        )
    show_answer(run, ingest_sheet, as_json=as_json, limits=False)
    if not as_json and (len(run.understood) == 1 or wants_details()):
        for account in run.understood:
            show_answer(account, account_sheet, as_json=False, limits=False)


@options.command()
@options.ledger
def quarantine(ledger: Path) -> None:
    """Print the quarantined rows as CSV that is safe to open in a spreadsheet.

    Example: pairband quarantine > quarantine.csv
    """
    from pipeline.answers.ingest.run import quarantined

    show_document(quarantined(ledger))
