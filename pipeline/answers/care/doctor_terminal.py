"""What the doctor found."""

from rich.markup import escape

from pipeline.answers.care.doctor import Health
from pipeline.terminal.console import OUT


def show_health(health: Health) -> None:
    """Print versions, the ledger's figures, and what there is to mend, with what to do."""
    _say(", ".join(f"{name} {version}" for name, version in health.versions.items()))
    _say(
        f"{health.ledger}: {health.sales:,} sales, {health.quarantined:,} rows in quarantine; "
        f"{health.size_bytes:,} bytes, {health.free_bytes:,} free on its disk"
    )
    _say("fitted: " + (f"{health.fitted_at:%Y-%m-%d %H:%M} UTC" if health.fitted_at else "no"))
    copy = health.copy
    _say("newest copy: " + (f"{copy.made_at:%Y-%m-%d}, {copy.path}" if copy else "none known"))
    for ailment in health.ailments:
        _say(f"! {ailment.what}: {ailment.remedy}")
    if not health.ailments:
        _say("All is well.")


def _say(sentence: str) -> None:
    OUT.print(escape(sentence), soft_wrap=True)
