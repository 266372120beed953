"""Upcoming lots in the terminal."""

from rich.markup import escape

from pipeline.decisions.lots import LEAVE, LotList
from pipeline.terminal.console import OUT, table_of
from reports import figures
from reports.limits import LIMITS
from reports.lots import chance_words, state_lots

MOST_ROWS = 40


def show_lots(listed: LotList) -> None:
    """Print a lot list: the answer first, then the lots by rank, then the cautions."""
    OUT.print(f"\n[bold]{escape(state_lots(listed))}[/bold]\n", soft_wrap=True)
    table = table_of(
        *("", "lot", "venue", "bid now", "walk away at", "fair value", "gain", "loss", "verdict"),
        right=(0, 3, 4, 5, 6, 7),
    )
    for lot in listed.lots.head(MOST_ROWS).iter_rows(named=True):
        native = lot["native_currency"] or listed.currency
        name = " ".join(part for part in (lot["silhouette"], lot["colourway"], lot["era"]) if part)
        flags = ", ".join(lot["flags"]) or (lot["why"] or "")
        table.add_row(
            str(lot["rank"]),
            escape((name or lot["title"] or "")[:40]),
            escape(lot["venue"] or ""),
            _money(lot["present_bid"], native),
            _money(lot["walk_away_bid"], native),
            "–" if lot["median"] is None else figures.estimate(lot["median"], listed.currency),
            "–"
            if lot["expected_gain"] is None
            else figures.change(lot["expected_gain"], listed.currency, price=figures.SMALL),
            chance_words(lot["chance_of_loss"]),
            escape(lot["verdict"] + (f" ({flags})" if flags and lot["verdict"] != LEAVE else "")),
        )
    OUT.print(table)
    if listed.lots.height > MOST_ROWS:
        OUT.print(
            f"… and {listed.lots.height - MOST_ROWS:,} more (`--csv`, `--excel` and `--json` hold all)."
        )
    for line in (*listed.refused, *listed.cautions):
        OUT.print(f"! {escape(line)}", soft_wrap=True)
    for limit in LIMITS:
        OUT.print(limit, style="dim", soft_wrap=True)


def _money(value: float | None, currency: str) -> str:
    if value is None:
        return "–"
    return figures.amount(value, currency) if value else "none"


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
