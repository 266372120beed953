"""Prove the ledger: every check is a query for what must not be."""

from dataclasses import dataclass

import polars as pl

from pipeline.ledger.ledger import Ledger
from pipeline.schema import SALE_RECORD
from pipeline.shipped import shipped


@dataclass(frozen=True)
class Finding:
    """A check that did not hold: its name, how many rows break it, and the first of them."""

    check: str
    rows: int
    first: dict[str, object]


def run_checks(ledger: Ledger) -> tuple[Finding, ...]:
    """Run every check of sql/checks; return those that found something (none: the ledger is sound)."""
    closed = pl.DataFrame(
        [(column.name, list(column.allowed)) for column in SALE_RECORD if column.allowed is not None],
        schema={"field": pl.String, "allowed": pl.List(pl.String)},
        orient="row",
    )
    findings = []
    for name in check_names():
        broken = ledger.read_with(f"checks/{name}", closed)
        if broken.height:
            findings.append(Finding(name, broken.height, broken.row(0, named=True)))
    return tuple(findings)


def check_names() -> tuple[str, ...]:
    """Return the names of the checks."""
    return tuple(sorted(path.stem for path in (shipped("sql") / "checks").glob("*.sql")))
