"""The care of the ledger: examine it, copy it, bring a copy back, compact it."""

from pathlib import Path

import click

from pipeline import clock, options


@options.command()
@options.market
@options.ledger
@options.as_json
@click.pass_context
def doctor(context: click.Context, market: Path, ledger: Path, as_json: bool) -> None:
    """Say whether the ledger is sound, what is stale, and what to do; exit code 3 where there is something to fix.

    Example: pairband doctor
    """
    from pipeline.answers.care.doctor import examine
    from pipeline.answers.care.tables import health_sheet
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    health = examine(ledger, market, now=clock.now())
    show_json(health) if as_json else show_sheet(health_sheet(health), limits=False)
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
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    made = back_up(ledger, market, file, made_at=clock.now())
    show_json(made) if as_json else show_sheet(backup_sheet(made), limits=False)
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
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    returned = recover(file, ledger, market, now=clock.now())
    show_json(returned) if as_json else show_sheet(return_sheet(returned), limits=False)


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
    from pipeline.terminal.console import show_json
    from pipeline.terminal.sheet import show_sheet

    compaction = rewrite(ledger)
    show_json(compaction) if as_json else show_sheet(compaction_sheet(compaction), limits=False)
