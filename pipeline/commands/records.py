"""The records: read exports, see what was set aside, and rule on what awaits it."""

from pathlib import Path

import click

from pipeline import clock
from pipeline.commands import options
from pipeline.streams import say, show_document


@options.command()
@click.argument("files", type=options.FILE, nargs=-1, required=True)
@click.option("--map", "map_name", help="The export map to use for all of them.")
@options.market
@options.ledger
@options.as_json
def ingest(files: tuple[Path, ...], map_name: str | None, market: Path, ledger: Path, as_json: bool) -> None:
    """Read exports into the ledger, in any order. Reading a file again changes nothing.

    Example: pairband ingest exports/*.csv
    """
    from pipeline.jobs.ingest import ingest_exports
    from pipeline.terminal.console import show_json
    from pipeline.terminal.ingest import show_ingest
    from pipeline.terminal.progress import progress

    with progress("reading exports", quiet=as_json) as on_progress:
        run = ingest_exports(
            ledger,
            market,
            files,
            map_name=map_name,
            loaded_at=clock.now(),
            on_progress=on_progress,
        )
    show_json(run) if as_json else show_ingest(run)


@options.command()
@options.ledger
def quarantine(ledger: Path) -> None:
    """Print the quarantined rows as CSV that is safe to open in a spreadsheet.

    Example: pairband quarantine > quarantine.csv
    """
    from pipeline.jobs.ingest import quarantined

    show_document(quarantined(ledger))


@options.command()
@options.ledger
@options.as_json
def review(ledger: Path, as_json: bool) -> None:
    """List what awaits your ruling: sales that may be one, sales held out of the fit, and your rulings so far.

    Example: pairband review
    """
    from pipeline.jobs.review import list_review
    from pipeline.terminal.console import show_json
    from pipeline.terminal.review import show_review

    listed = list_review(ledger)
    show_json(listed) if as_json else show_review(listed)


@options.command()
@click.argument("kind")
@click.argument("record")
@click.argument("other", required=False)
@click.option("--era", help="The era, for a ruling of that kind.")
@click.option("--note", default="", help="Why, for yourself.")
@click.option("--withdraw", is_flag=True, help="Take the same ruling back.")
@options.market
@options.ledger
def rule(
    kind: str,
    record: str,
    other: str | None,
    era: str | None,
    note: str,
    withdraw: bool,
    market: Path,
    ledger: Path,
) -> None:
    """Keep a ruling of yours; it survives reading the exports again. Changes the ledger.

    KIND is "same sale", "different sales", "same pair", "era", "accept" or "hold"; RECORD is the record's id,
    as `pairband review` lists it, and OTHER the other record, for a ruling on two.

    Example: pairband rule "same sale" 6f1c2a 91b04d --note "two exports of one season"
    """
    from pipeline.jobs.review import keep_ruling

    say(
        keep_ruling(
            ledger,
            market,
            kind,
            record,
            other,
            era=era,
            note=note,
            withdraw=withdraw,
            ruled_at=clock.now(),
        )
    )
