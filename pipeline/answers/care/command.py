"""The care of the ledger: examine it, copy it, bring a copy back, compact it."""

from pathlib import Path

import click

from pipeline import clock, options
from pipeline.outputs import show_answer


@options.command()
@options.market
@options.ledger
@options.as_json
@options.details
@click.pass_context
def doctor(context: click.Context, market: Path, ledger: Path, as_json: bool) -> None:
    """Say whether the ledger is sound, what is stale, and what to do; exit code 3 where there is something to fix.

    Example: pairband doctor
    """
    from pipeline.answers.care.doctor import examine
    from pipeline.answers.care.tables import health_sheet

    health = examine(ledger, market, now=clock.now())
    show_answer(health, health_sheet, as_json=as_json, limits=False)
    context.exit(health.exit_code)


@options.command()
@click.argument("file", type=options.FILE, required=False)
@options.market
@options.ledger
@options.as_json
@click.pass_context
def backup(context: click.Context, file: Path | None, market: Path, ledger: Path, as_json: bool) -> None:
    """Copy the ledger, and check that the copy holds what the ledger does. Overwrites nothing.

    FILE is where to: a new file, or a folder; left out, `copies` beside the ledger. The market file is copied
    beside it, under the copy's name and `.market.toml`. The copy is compact: what was removed from the ledger is
    not in it. Exit code 3 where the ledger itself is not sound.

    Example: pairband backup /media/stick
    """
    from pipeline.answers.care.copies import back_up
    from pipeline.answers.care.tables import backup_sheet

    made = back_up(ledger, market, file, made_at=clock.now())
    show_answer(made, backup_sheet, as_json=as_json, limits=False)
    context.exit(3 if made.findings else 0)


@options.command("recover")
@click.argument("file", type=options.FILE)
@options.market
@options.ledger
@options.as_json
def bring_back(file: Path, market: Path, ledger: Path, as_json: bool) -> None:
    """Bring a copy of the ledger back, once it has been checked. What it replaces is kept beside it.

    FILE is a copy that `pairband backup` made. The market file that was copied with it comes back too; yours, if
    it differs, is kept beside it under another name.

    Example: pairband recover copies/pairband-20261103-180000.duckdb
    """
    from pipeline.answers.care.copies import recover
    from pipeline.answers.care.tables import return_sheet

    returned = recover(file, ledger, market, now=clock.now())
    show_answer(returned, return_sheet, as_json=as_json, limits=False)


@options.command()
@options.ledger
@options.as_json
def compact(ledger: Path, as_json: bool) -> None:
    """Write the ledger again with only what it holds: what was removed from it leaves its file as well.

    Copies made before still hold what was removed since; they are listed.

    Example: pairband compact
    """
    from pipeline.answers.care.tables import compaction_sheet
    from pipeline.ledger.copies import compact as rewrite

    compaction = rewrite(ledger)
    show_answer(compaction, compaction_sheet, as_json=as_json, limits=False)
