"""Audit the values and bands of a ledger's market."""

from collections.abc import Callable
from datetime import date

from pipeline.answers.audit.answer import audit
from pipeline.answers.audit.figures import Audit
from pipeline.workspace import Workspace


def audit_ledger(
    workspace: Workspace,
    *,
    as_of: date,
    on_progress: Callable[[int, int], None] | None = None,
) -> Audit:
    """Audit the market of a ledger on its sales up to a day; `on_progress` gets (origins done, of how many)."""
    sales = workspace.sales
    workspace.close()  # the audit takes long, and others may want to write
    return audit(sales, workspace.market, as_of=as_of, on_progress=on_progress)
