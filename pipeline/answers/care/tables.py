"""What the doctor found, what was copied, brought back or compacted, in sentences."""

import shlex

from pipeline import formats
from pipeline.answers.care.copies import Backup, MarketReturn, Return
from pipeline.answers.care.doctor import Health
from pipeline.answers.sheet import Detail, Sheet
from pipeline.ledger.copies import Compaction
from pipeline.market.fitted_market import OUTSIDE


def health_sheet(health: Health) -> Sheet:
    """Return the sheet of an examination: what to fix and how, then the ledger; versions last."""
    found, copy = len(health.problems), health.copy
    return Sheet(
        title=f"{formats.counted(found, 'thing')} to fix" if found else "All is well",
        sentences=(
            *(f"! {problem.what}: {problem.remedy}" for problem in health.problems),
            f"Ledger: {health.ledger}, {formats.count(health.sales)} recorded, "
            f"{formats.count(health.quarantined)} quarantined, {formats.count(health.put_aside)} put aside; "
            f"{health.size_bytes:,} bytes, {health.free_bytes:,} free on its disk",
            "Fitted: "
            + (f"{formats.moment(health.fitted_at)} UTC" if health.fitted_at else "no")
            + f", to sales{OUTSIDE}" * health.fitted_to_files,
            "Newest copy: " + (f"{formats.day(copy.made_at)}, {copy.path}" if copy else "none known"),
        ),
        source=Detail(", ".join(f"{name} {version}" for name, version in health.versions.items())),
    )


def backup_sheet(backup: Backup) -> Sheet:
    """Return the sheet of a copy: where it is, what it holds, and how it comes back."""
    copy = backup.copy
    sentences = [
        f"Copied to {copy.path}: {copy.sales:,} records, {copy.size_bytes:,} bytes; read again and compared with the "
        "ledger.",
        f"The market file is beside it: {backup.market.name}"
        if backup.market is not None
        else f"No market file was copied: there is none at {backup.market_path}; name yours with --market.",
    ]
    if not backup.findings:
        sentences.append(f"`pairband recover {shlex.quote(str(copy.path))}` brings it back.")
    return Sheet(
        title="The ledger was copied",
        sentences=tuple(sentences),
        warnings=tuple(
            f"the ledger itself fails a check: {finding.check}, {finding.rows:,} rows, first {finding.first}"
            for finding in backup.findings
        ),
    )


def return_sheet(returned: Return) -> Sheet:
    """Return the sheet of a copy that was brought back: what is where now."""
    recovery = returned.ledger
    sentences = [f"{recovery.ledger} is again what {recovery.copy} holds: {recovery.sales:,} records."]
    if recovery.replaced is not None:
        sentences.append(f"What was there before is in {recovery.replaced}; delete it once all is well.")
    return Sheet(title="The copy was brought back", sentences=(*sentences, _of_the_market(returned.market)))


def compaction_sheet(compaction: Compaction) -> Sheet:
    """Return the sheet of a compaction: its size before and now, and older files with what was removed."""
    older = (
        "Older files still hold what was removed from the ledger later; delete those that you no longer need:"
    )
    return Sheet(
        title="The ledger was compacted",
        sentences=(
            f"{compaction.ledger} was written again with only what it holds, and checked: "
            f"{compaction.bytes_before:,} bytes before, {compaction.bytes_after:,} now.",
            *((older, *(f"  {path}" for path in compaction.older)) if compaction.older else ()),
        ),
    )


def _of_the_market(market: MarketReturn) -> str:
    if market.state == "none with the copy":
        return f"The copy has no market file with it; {market.path} was left as it is."
    if market.state == "changed since":
        return (
            f"{market.beside} is not the market file that was copied with it: it was changed since. "
            f"{market.path} was left as it is."
        )
    if market.state == "as it was":
        return f"{market.path} is the copy's market file already."
    before = "" if market.replaced is None else f" The one before is in {market.replaced}."
    return f"{market.path} is again the copy's market file.{before}"
