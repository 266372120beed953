"""The care of the ledger: examine it, copy it, bring a copy back."""

from pathlib import Path

import click

from pipeline import clock
from pipeline.commands import options


@options.command()
@options.market
@options.ledger
@options.as_json
@click.pass_context
def doctor(context: click.Context, market: Path, ledger: Path, as_json: bool) -> None:
    """Say whether the ledger is sound, what is stale, and what to do; exit code 3 where there is something to mend.

    Example: pairband doctor
    """
    from pipeline.jobs.doctor import examine
    from pipeline.terminal.console import show_json
    from pipeline.terminal.doctor import show_health

    health = examine(ledger, market, now=clock.now())
    show_json(health) if as_json else show_health(health)
    context.exit(health.exit_code)


@options.command()
@click.argument("file", type=options.FILE, required=False)
@options.market
@options.ledger
@options.as_json
@click.pass_context
def backup(context: click.Context, file: Path | None, market: Path, ledger: Path, as_json: bool) -> None:
    """Copy the ledger, and prove that the copy holds what the ledger does. Writes over nothing.

    FILE is where to: a new file, or a folder; left out, `copies` beside the ledger. The market file is copied
    beside it. Exit code 3 where the ledger itself is not sound.

    Example: pairband backup /media/stick
    """
    from pipeline.jobs.copies import back_up
    from pipeline.terminal.console import show_json
    from pipeline.terminal.copies import show_backup

    made = back_up(ledger, market, file, made_at=clock.now())
    show_json(made) if as_json else show_backup(made)
    context.exit(3 if made.findings else 0)


@options.command("recover")
@click.argument("file", type=options.FILE)
@options.ledger
@options.as_json
def bring_back(file: Path, ledger: Path, as_json: bool) -> None:
    """Bring a copy of the ledger back, once it has been proved. The ledger that it replaces is kept beside it.

    FILE is a copy that `pairband backup` made.

    Example: pairband recover copies/pairband-20261103-180000.duckdb
    """
    from pipeline.jobs.copies import recover
    from pipeline.terminal.console import show_json
    from pipeline.terminal.copies import show_recovery

    recovered = recover(file, ledger, now=clock.now())
    show_json(recovered) if as_json else show_recovery(recovered)
