"""See what awaits a decision, and decide."""

from pathlib import Path

import click

from pipeline import clock, options
from pipeline.streams import say


@options.command()
@options.ledger
@options.as_json
def review(ledger: Path, as_json: bool) -> None:
    """List what awaits your ruling: sales that may be one, sales held out of the fit, and your rulings so far.

    Example: pairband review
    """
    from pipeline.answers.review.run import list_review
    from pipeline.answers.review.terminal import show_review
    from pipeline.terminal.console import show_json

    listed = list_review(ledger)
    show_json(listed) if as_json else show_review(listed)


@options.command()
@click.argument("kind", type=options.WORDS)
@click.argument("record", type=options.WORDS)
@click.argument("other", type=options.WORDS, required=False)
@click.option("--era", type=options.WORDS, help="The era, for a ruling of that kind.")
@click.option("--note", type=options.WORDS, default="", help="Why, for yourself.")
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
    from pipeline.answers.review.run import keep_ruling

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
