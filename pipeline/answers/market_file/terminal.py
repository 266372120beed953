"""What a market file holds, and the columns of a sale record."""

from pathlib import Path

from rich.markup import escape

from pipeline.config import Market
from pipeline.terminal.console import OUT, table_of


def show_market(market: Market, path: Path) -> None:
    """Print what a market file holds."""
    OUT.print(f"{escape(str(path))} is good: base currency {market.base_currency}.")
    for kind in ("eras", "silhouettes", "treatments", "defects", "parts", "venues"):
        names = [item.name for item in getattr(market, kind)]
        OUT.print(f"  {len(names):>3} {kind}: {escape(', '.join(names))}", soft_wrap=True)
    for name, export_map in market.maps.items():
        OUT.print(
            f"  map {escape(name)}: {escape(export_map.files)} of {escape(export_map.venue)}", soft_wrap=True
        )
    for remark in market.remarks:
        OUT.print(f"  note: {escape(remark)}.", soft_wrap=True)


def show_columns(rows: list[dict[str, str]]) -> None:
    """Print the columns of a sale record."""
    table = table_of("column", "type", "unit", "allowed", "meaning")
    for row in rows:
        table.add_row(*(escape(row[key]) for key in ("column", "type", "unit", "allowed", "meaning")))
    OUT.print(table)
