"""The pairs that a reader of the pricing page keeps: the columns of their CSV, and the map by which it is read."""

import json
from typing import Any

from pipeline.config import Market

SEEN_FILE = "pairs_seen.csv"
COLUMNS: dict[str, str] = {
    "venue": "venue",
    "offered_on": "seen",
    "title": "title",
    "currency": "currency",
    "price_native": "price",
    "silhouette": "silhouette",
    "colourway": "colourway",
    "era": "era",
    "size_label": "size",
    "grade": "grade",
    "box": "box",
    "tags": "tags",
    "overlay": "overlay",
    "parts": "parts",
    "defects": "defects",
    "treatments": "treatments",
}
"""The fields of a sale record that the CSV has, each with its heading."""

VALUE = "value"
"""The heading of what the page said of the pair, which no field reads."""

NOT_KEPT = "This browser keeps nothing for this page: export the list before you close it."


def seen_document(market: Market) -> dict[str, Any]:
    """Return what the page needs to keep pairs, JSON-able; the list of each business is its own."""
    return {
        "store": f"pairs seen, {market.business.heading}, {market.base_currency}",
        "file": SEEN_FILE,
        "columns": [*COLUMNS.values(), VALUE],
        "not_kept": NOT_KEPT,
    }


def seen_map(market: Market) -> str:
    """Return the export map by which the CSV is read as a list of lots, as TOML for the market file.

    A map needs a venue for rows that name none; it is that of the resale, else the first.
    """
    venue = market.buying.sells_at or next((one.name for one in market.venues), "")
    columns = "\n".join(f'{field} = "{heading}"' for field, heading in COLUMNS.items())
    return (
        f"[maps.pairs_seen]\nvenue = {json.dumps(venue, ensure_ascii=False)}\n"
        'files = "pairs_seen*.csv"\nholds = "lots"\ndate_order = "ymd"\ndecimal_mark = "."\n'
        f'price_basis = "hammer"\nlist_mark = ";"\n\n[maps.pairs_seen.columns]\n{columns}\n'
    )
