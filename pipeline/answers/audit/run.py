"""Audit the values and bands of a ledger's market."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from pipeline.answers.audit.answer import audit
from pipeline.answers.audit.figures import Audit
from pipeline.config import load_market
from pipeline.ledger import open_ledger
from reports.audit.page import write_audit


def audit_ledger(
    ledger_path: Path,
    market_path: Path,
    *,
    as_of: date,
    on_progress: Callable[[int, int], None] | None = None,
) -> Audit:
    """Audit the market of a ledger on its sales up to a day; `on_progress` is told (origins done, of how many)."""
    market = load_market(market_path)
    with open_ledger(ledger_path, read_only=True) as ledger:
        sales = ledger.read("marts/priced_sales", silhouette=None, most=None)
    return audit(sales, market, as_of=as_of, on_progress=on_progress)


def write_audit_page(found: Audit, page: Path, market_path: Path) -> Path:
    """Write the page of an audit, and return its path."""
    return write_audit(found, page, business=load_market(market_path).business.name)
