"""Correct, remove and add records, and take decisions back."""

from pathlib import Path
from typing import Any

import click

from pipeline import clock, formats, options
from pipeline.outputs import show_answer
from pipeline.streams import can_ask, say

reason = click.option("--reason", type=options.WORDS, default="", help="Why, for yourself.")
MOST_SHOWN = 20


@options.command()
@click.argument("record", type=options.WORDS)
@click.argument("changes", type=options.WORDS, nargs=-1, required=True)
@reason
@options.market
@options.ledger
@options.as_json
def correct(
    record: str, changes: tuple[str, ...], reason: str, market: Path, ledger: Path, as_json: bool
) -> None:
    """Correct fields of a record; all that follows is worked out again. Changes the ledger, never an export.

    RECORD is the record's id or its first signs, as `pairband records` lists them. Each of CHANGES is field=value,
    in your words; with nothing after the "=" the value is not known. A correction survives reading the export again.
    A price counts the same as the export's (hammer, or without tax), and premium and tax follow it; with
    price_basis=all-in it is all that the buyer paid, and nothing is added.

    Example: pairband correct 6f1c2a grade=8 "size=UK 9" --reason "seen at the fair"
    """
    from pipeline.answers.corrections.run import correct_record
    from pipeline.answers.corrections.tables import corrected_sheet

    found = correct_record(ledger, market, record, changes, reason=reason, decided_at=clock.now())
    show_answer(found, corrected_sheet, as_json=as_json, limits=False)


@options.command()
@click.argument("record_ids", metavar="[RECORD]...", type=options.WORDS, nargs=-1)
@options.wanted_records
@click.option("--yes", is_flag=True, help="Remove without asking.")
@reason
@options.market
@options.ledger
def remove(
    record_ids: tuple[str, ...], yes: bool, reason: str, market: Path, ledger: Path, **words: Any
) -> None:
    """Remove records, all rows of a file, or the records that match, after showing what and asking.

    Removed rows stay in the ledger without counting, and come back with `pairband undo`. With --file alone the rows
    of that file go, and a sale that another file records as well stays. A later version of the file counts again, and
    `pairband ingest` says so.

    Example: pairband remove 6f1c2a --reason "a replica" --yes
    """
    from pipeline.answers.corrections.run import remove_records, remove_rows_of_file, stock_lists_of
    from pipeline.answers.records.run import records_to_remove
    from pipeline.answers.records.tables import records_sheet
    from pipeline.terminal.questions import agrees
    from pipeline.terminal.sheet import show_sheet
    from pipeline.workspace import Workspace

    file_name = words["file_name"]
    wanted = options.read_wanted(words)
    if not record_ids and wanted.is_everything:
        raise click.UsageError("say which records: their ids, or what they have in common.")
    if record_ids and not wanted.is_everything:
        raise click.UsageError("name records, or say what they have in common: not both.")
    with Workspace(ledger, market) as workspace:
        lists = stock_lists_of(workspace.ledger, file_name) if wanted.is_one_file else []
        found = None if lists else records_to_remove(workspace.ledger, workspace.market, record_ids, wanted)
    if found is not None and not found.matching:
        say("no record matches; nothing was removed.")
        return
    if found is None:
        say(
            "".join(
                f"The stock list of {formats.day(on)}: {formats.counted(pairs, 'pair')}.\n"
                for on, pairs in lists
            )
        )
    else:
        show_sheet(records_sheet(found), limits=False, most_rows=MOST_SHOWN)
    if not yes:
        if not can_ask():
            raise click.UsageError("nothing was removed: say --yes to remove these.")
        if not agrees("Remove them?"):
            say("nothing was removed.")
            return
    if file_name is not None and wanted.is_one_file:
        remove_rows_of_file(ledger, market, file_name, reason=reason, decided_at=clock.now())
        say(f"removed: the rows of {file_name}. `pairband undo --last` brings them back.")
        return
    ids = [one.record_id for one in found.listed] if found is not None else []
    remove_records(ledger, market, ids, reason=reason, decided_at=clock.now())
    say(
        f"removed: {len(ids):,} record{'s' if len(ids) > 1 else ''}. `pairband undo --last` brings them back."
    )


@options.command()
@click.argument("fields", type=options.WORDS, nargs=-1)
@reason
@options.market
@options.ledger
@options.as_json
def add(fields: tuple[str, ...], reason: str, market: Path, ledger: Path, as_json: bool) -> None:
    """Add one sale by hand, in your words; in a terminal it asks for what you leave out. Changes the ledger.

    Each of FIELDS is field=value. A price is all that the buyer paid, unless price_basis=hammer or net says otherwise.

    Example: pairband add "venue=Holm Sound Auctions" sold=2024-05-03 price=240 "silhouette=Gannet Hi" "size=UK 9"
    """
    from pipeline.answers.corrections.run import add_sale, read_words
    from pipeline.answers.corrections.tables import added_sheet
    from pipeline.config import load_market
    from pipeline.terminal.questions import ask_for_a_sale

    said = read_words(fields)
    if not as_json and not fields and can_ask():
        said = ask_for_a_sale(load_market(market))
    found = add_sale(ledger, market, said, reason=reason, decided_at=clock.now())
    show_answer(found, added_sheet, as_json=as_json, limits=False)


@options.command()
@click.argument("decision", type=options.WORDS, required=False)
@click.option("--last", is_flag=True, help="The decision made last, or those made together with it.")
@options.market
@options.ledger
def undo(decision: str | None, last: bool, market: Path, ledger: Path) -> None:
    """Take a decision of yours back: a correction, a removal, an added sale, or what you ruled. Changes the ledger.

    DECISION is its id or the first signs of it, as `pairband review` lists it. All is then as if it had not been made.

    Example: pairband undo --last
    """
    from pipeline.answers.corrections.run import undo_decision
    from pipeline.answers.review.tables import decision_words

    if (decision is None) != last:
        raise click.UsageError("name a decision, or say --last.")
    taken = undo_decision(ledger, market, decision, undone_at=clock.now())
    for words in dict.fromkeys(map(decision_words, taken.to_dicts())):
        say(f"taken back: {words}.")
    say("Run `pairband fit` to value by it.")
