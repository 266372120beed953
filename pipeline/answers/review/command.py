"""See what awaits a decision, and decide."""

from pathlib import Path

import click

from pipeline import clock, options
from pipeline.outputs import show_answer
from pipeline.streams import say


@options.command()
@options.ledger
@options.as_json
def review(ledger: Path, as_json: bool) -> None:
    """List what awaits your decision: sales that may be one, sales excluded from the fit, and your decisions so far.

    Example: pairband review
    """
    from pipeline.answers.review.run import list_review
    from pipeline.answers.review.tables import review_sheet

    listed = list_review(ledger)
    show_answer(listed, review_sheet, as_json=as_json, limits=False)


@options.command()
@click.argument("kind", type=options.WORDS)
@click.argument("record", type=options.WORDS)
@click.argument("other", type=options.WORDS, required=False)
@click.option("--era", type=options.WORDS, help="The era, for a decision of that kind.")
@click.option("--note", type=options.WORDS, default="", help="Why, for yourself.")
@click.option("--withdraw", is_flag=True, help="Take the same decision back.")
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
    """Keep a decision of yours; it survives reading the exports again. Changes the ledger.

    The same decision again changes nothing, but a new note on it is kept. One that contradicts an earlier decision is
    refused until you take that back with --withdraw.

    KIND is "same sale", "different sales", "same pair", "era", "accept" or "hold"; RECORD is the record's id,
    as `pairband review` lists it, and OTHER the other record, for a decision on two.

    Example: pairband rule "same sale" 6f1c2a 91b04d --note "two exports of one season"
    """
    from pipeline.answers.review.run import keep_decision

    say(
        keep_decision(
            ledger,
            market,
            kind,
            record,
            other,
            era=era,
            note=note,
            withdraw=withdraw,
            decided_at=clock.now(),
        )
    )
