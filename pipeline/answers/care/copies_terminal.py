"""What was copied, and what was brought back."""

import shlex

from rich.markup import escape

from pipeline.answers.care.copies import Backup, MarketReturn, Return
from pipeline.ledger.copies import Compaction
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
    else:
        _say(f"no market file was copied: there is none at {backup.market_path}; name yours with --market.")
    for finding in backup.findings:
        _say(
            f"! the ledger itself does not hold: {finding.check}, {finding.rows:,} rows, first {finding.first}"
        )
    if not backup.findings:
        _say(f"`pairband recover {shlex.quote(str(copy.path))}` brings it back.")


def show_return(returned: Return) -> None:
    """Print what was brought back, and where the replaced ledger and market file lie."""
    recovery = returned.ledger
    _say(f"{recovery.ledger} is again what {recovery.copy} holds: {recovery.sales:,} sales.")
    if recovery.replaced is not None:
        _say(f"what was there before lies in {recovery.replaced}; delete it once all is well.")
    _say(_of_the_market(returned.market))


def _of_the_market(market: MarketReturn) -> str:
    if market.state == "none with the copy":
        return f"the copy has no market file with it; {market.path} was left as it is."
    if market.state == "changed since":
        return (
            f"{market.beside} is not the market file that was copied with it: it was changed since. "
            f"{market.path} was left as it is."
        )
    if market.state == "as it was":
        return f"{market.path} is the copy's market file already."
    before = "" if market.replaced is None else f" The one before lies in {market.replaced}."
    return f"{market.path} is again the copy's market file.{before}"


def show_compaction(compaction: Compaction) -> None:
    """Print what the ledger weighs now, and which older files still hold what was removed from it."""
    _say(
        f"{compaction.ledger} was written anew with only what it holds, and proved: "
        f"{compaction.bytes_before:,} bytes before, {compaction.bytes_after:,} now."
    )
    if compaction.older:
        _say(
            "Older files still hold what was removed from the ledger after they were made; delete those that "
            "you no longer need:"
        )
    for path in compaction.older:
        _say(f"  {path}")


def _say(sentence: str) -> None:
    OUT.print(escape(sentence), soft_wrap=True)
