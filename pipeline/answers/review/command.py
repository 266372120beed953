"""See what awaits a decision, and decide."""

from pathlib import Path

import click

from pipeline import clock, options
from pipeline.outputs import show_answer
from pipeline.streams import say


@options.command()
@options.ledger
@options.as_json
@options.details
def review(ledger: Path, as_json: bool) -> None:
    """List what awaits your decision: sales that may be one, sales excluded from the fit, and your decisions so far.

    Example: pairband review
    """
    from pipeline.answers.review.run import list_review
    from pipeline.answers.review.tables import review_sheet

    listed = list_review(ledger)
    show_answer(listed, review_sheet, as_json=as_json, limits=False)


@options.command()
@click.option("--csv", type=options.OUTPUT, help="Write all of them to this file (CSV).")
@click.option("--take", type=options.FILE, help="Bring in the decisions of a file that --csv wrote.")
@options.market
@options.ledger
@options.as_json
@options.details
def decisions(csv: Path | None, take: Path | None, market: Path, ledger: Path, as_json: bool) -> None:
    """List your decisions, write them to a file, or bring such a file in. Changes the ledger with --take alone.

    What you decided outlives the ledger: read your exports into a new one, and bring the file in. A decision that is
    kept already is not kept twice; one whose row is gone is listed.

    Example: pairband decisions --csv decisions.csv
    """
    from pipeline.answers.review.run import decisions_csv, list_decisions, take_decisions
    from pipeline.answers.review.tables import brought_in_sheet, decisions_sheet

    if take is not None:
        if csv is not None:
            raise click.UsageError("--csv writes a file and --take reads one: say one of them.")
        found = take_decisions(ledger, market, take, taken_at=clock.now())
        show_answer(found, brought_in_sheet, as_json=as_json, limits=False)
        return
    show_answer(list_decisions(ledger), decisions_sheet, as_json=as_json, limits=False)
    if csv is not None:
        from pipeline.outfile import write_file

        say(f"wrote {write_file(decisions_csv(ledger), csv)}", err=as_json)


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

    KIND is "same sale", "different sales", "same pair", "era", "accept" or "hold"; RECORD is the record's id
    or its first signs, as `pairband review` lists it, and OTHER the other record, for a decision on two.

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
