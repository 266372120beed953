"""Upcoming lots in the terminal."""

from typing import Any

import polars as pl
from rich.markup import escape
from rich.table import Table

from pipeline import formats
from pipeline.answers.lots.answer import LEAVE, LotList
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of
from reports.lots.page import chance_words, state_lots

MOST_ROWS = 40


def show_lots(listed: LotList) -> None:
    """Print a lot list: the answer first, then the lots by rank, then the cautions."""
    OUT.print(f"\n[bold]{escape(state_lots(listed))}[/bold]\n", soft_wrap=True)
    shown = listed.lots.head(MOST_ROWS)
    for verdict in shown["verdict"].unique(maintain_order=True):
        lots = shown.filter(pl.col("verdict") == verdict)
        OUT.print(f"[bold]{escape(verdict)}[/bold] ({formats.counted(lots.height, 'lot')})")
        OUT.print(_table(lots, listed.currency))
        OUT.print()
    if listed.lots.height > MOST_ROWS:
        OUT.print(
            f"… and {listed.lots.height - MOST_ROWS:,} more (`--csv`, `--excel` and `--json` hold all)."
        )
    for line in (*listed.refused, *listed.cautions):
        OUT.print(f"! {escape(line)}", soft_wrap=True)
    for limit in LIMITS:
        OUT.print(limit, style="dim", soft_wrap=True)


def _table(lots: pl.DataFrame, currency: str) -> Table:
    """Return the table of the lots of one verdict; its columns are as wide as those of the others."""
    table = table_of("", "lot", "bid now", "leave at", "fair", "gain", "loss", right=(0, 2, 3, 4, 5, 6))
    for column, width in zip(table.columns, (2, 33, 7, 8, 5, 5, 4), strict=True):
        column.min_width = width
    for lot in lots.iter_rows(named=True):
        native = lot["native_currency"] or currency
        table.add_row(
            str(lot["rank"]),
            _described(lot),
            _money(lot["present_bid"], native),
            _money(lot["walk_away_bid"], native),
            "–" if lot["median"] is None else formats.estimate(lot["median"], currency),
            "–"
            if lot["expected_gain"] is None
            else formats.change(lot["expected_gain"], currency, price=formats.SMALL),
            chance_words(lot["chance_of_loss"]).replace("under ", "<").replace("over ", ">"),
        )
    return table


def _described(lot: dict[str, Any]) -> str:
    """Return what a lot is; under it where and when it is sold, and what must be known of it."""
    name = " ".join(part for part in (lot["silhouette"], lot["colourway"], lot["era"]) if part)
    day = f"{lot['closes_on'].day} {lot['closes_on']:%b}" if lot["closes_on"] else ""
    number = " ".join(part for part in (lot["venue"], lot["lot_ref"]) if part)
    place = ", ".join(part for part in (number, day) if part)
    known = [*lot["flags"], *([lot["why"]] if lot["why"] else [])] if lot["verdict"] != LEAVE else []
    under = [f"[dim]{escape(line)}[/dim]" for line in (place, *known) if line]
    return "\n".join((escape(name or lot["title"] or ""), *under))


def _money(value: float | None, currency: str) -> str:
    if value is None:
        return "–"
    return formats.amount(value, currency) if value else "none"


def lots_document(listed: LotList) -> dict[str, object]:
    """Return a lot list as one document: the terms, the lots, what was refused, the cautions, the limits."""
    return {
        "as_of": listed.as_of,
        "currency": listed.currency,
        "terms": listed.terms,
        "lots": listed.lots.to_dicts(),
        "refused": listed.refused,
        "cautions": listed.cautions,
        "limits": LIMITS,
        "source": listed.source,
    }
