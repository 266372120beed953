"""Make every file of the demo, as bytes by its path in this folder."""

from pathlib import Path

import polars as pl

from sample_data.expected import expected_document, expected_json
from sample_data.exports import SEED, draw_export_offers, make_exports
from sample_data.shopping import make_earlier_stock, make_stock, make_upcoming_lots
from sample_data.truth import truth_json

EARLIER_LIST = "lists/stock_2026_07.csv"
"""The stock list of three months before, apart from the exports: two lists of one map cannot be read together."""


def make_files(*, seed: int = SEED) -> dict[str, bytes]:
    """Return path → bytes of the exports, the lists, the truth and what is expected of them."""
    offers = draw_export_offers(seed=seed)
    exports = make_exports(offers, seed=seed)
    lots = make_upcoming_lots(seed=seed)
    last = offers.select(pl.col("stock_ref").str.strip_prefix("TP-").cast(pl.Int32).max()).item()
    stock = make_stock(seed=seed, after=last)
    document = expected_document(offers, exports, lots, stock)
    return {
        **{f"exports/{export.name}": export.content for export in exports},
        "exports/upcoming_lots.csv": lots.content,
        "exports/stock.csv": stock.content,
        EARLIER_LIST: make_earlier_stock(stock, offers),
        "truth.json": truth_json().encode(),
        "expected.json": expected_json(document).encode(),
    }


def write_files(folder: Path, *, seed: int = SEED) -> list[Path]:
    """Write all files below a folder and return their paths; what is there is replaced."""
    paths = []
    for name, content in make_files(seed=seed).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        paths.append(path)
    return paths
