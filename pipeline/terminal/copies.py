"""What was copied, and what was brought back."""

import shlex

from rich.markup import escape

from pipeline.jobs.copies import Backup
from pipeline.ledger.copies import Recovery
from pipeline.terminal.console import OUT


def show_backup(backup: Backup) -> None:
    """Print where the copy lies and what it holds."""
    copy = backup.copy
    _say(
        f"copied to {copy.path}: {copy.sales:,} sales, {copy.size_bytes:,} bytes; read again and proved "
        "against the ledger."
    )
    if backup.market is not None:
        _say(f"the market file lies beside it: {backup.market.name}")
    for finding in backup.findings:
        _say(
            f"! the ledger itself does not hold: {finding.check}, {finding.rows:,} rows, first {finding.first}"
        )
    if not backup.findings:
        _say(f"`pairband recover {shlex.quote(str(copy.path))}` brings it back.")


def show_recovery(recovery: Recovery) -> None:
    """Print what was brought back, and where the replaced ledger lies."""
    _say(f"{recovery.ledger} is again what {recovery.copy} holds: {recovery.sales:,} sales.")
    if recovery.replaced is not None:
        _say(f"what was there before lies in {recovery.replaced}; delete it once all is well.")
    if recovery.copy.with_suffix(".toml").is_file():
        _say(f"the market file of that day is {recovery.copy.with_suffix('.toml')}; yours was left as it is.")


def _say(sentence: str) -> None:
    OUT.print(escape(sentence), soft_wrap=True)
