"""Audit the values and bands of a ledger's market."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

from pipeline import __version__
from pipeline.answers.audit.answer import audit
from pipeline.answers.audit.figures import Audit
from pipeline.errors import FitError
from pipeline.market.fitted_market import FittedMarket
from pipeline.workspace import Workspace


def audit_ledger(
    workspace: Workspace,
    *,
    as_of: date,
    on_progress: Callable[[int, int], None] | None = None,
) -> Audit:
    """Audit the market of a ledger on its sales up to a day; `on_progress` gets (origins done, of how many).

    The latest fit is audited where it is of these sales; else the market is fitted to them first.
    """
    sales, fitted = workspace.sales, _kept_fit(workspace, as_of)
    workspace.close()  # a fit takes long, and others may want to write
    return audit(sales, workspace.market, as_of=as_of, fitted=fitted, on_progress=on_progress)


def _kept_fit(workspace: Workspace, as_of: date) -> FittedMarket | None:
    """Return the latest fit, with what it priced past sales at, where it is of the ledger's sales up to this day."""
    try:
        fitted, stale = workspace.fitted, workspace.stale
    except FitError:
        return None
    of_this_ledger = not stale and not fitted.source.in_files and as_of >= fitted.last_sale
    if not of_this_ledger or fitted.version != __version__ or fitted.origins is None:
        return None
    return replace(fitted, priced_before=workspace.ledger.read("fits/priced_before"))
