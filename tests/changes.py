"""An answer of what changed, made up: three pairs, every cause, two new sales."""

from dataclasses import replace
from datetime import date

import polars as pl

from pipeline.answers.changed.answer import MARKET, MARKET_FILE, NEW_SALES, PARTS, PUT_RIGHT, Changed
from pipeline.market.fitted_market import Source


def some_changed(silhouette: str = "Gannet Hi") -> Changed:
    """Return what changed of three pairs of that silhouette; nothing moved the last."""
    parts = {
        MARKET: [-34.0, 10.0, 0.0],
        NEW_SALES: [-36.5, 0.0, 0.0],
        PUT_RIGHT: [5.0, 0.0, 0.0],
        MARKET_FILE: [0.5, 0.0, 0.0],
        "attributes": [5.0, 0.0, 0.0],
    }
    pairs = pl.DataFrame(
        {
            "row_number": [2, 3, 4],
            "stock_ref": ["A1", "A2", None],
            "silhouette": [silhouette] * 3,
            "colourway": ["Kelp", None, "Buoy Red"],
            "era": ["first", "second", None],
            "then": [430.0, 200.0, 90.0],
            "now": [370.0, 210.0, 90.0],
            "change": [-60.0, 10.0, 0.0],
            "share": [370 / 430 - 1, 0.05, 0.0],
            **parts,
            "market_error": [20.0, 9.0, 4.0],
            "differs": ["grade 7 → 7.5", None, None],
        }
    )
    moved = pl.DataFrame(
        {
            "row_number": [2, 2],
            "stock_ref": ["A1", "A1"],
            "record_id": ["0123456789abcdef", "fedcba9876543210"],
            "sale": [f"{silhouette} Kelp first", f"{silhouette} second"],
            "sold_on": [date(2026, 9, 5), date(2026, 8, 1)],
            "price_paid": [310.0, 290.0],
            "moved": [-12.0, -7.5],
            "share": [-0.031, -0.02],
        }
    )
    source = Source(5000, date(2017, 10, 1), date(2026, 9, 26), "0a1b2c3d4e", date(2026, 10, 1), "0.1.0")
    return Changed(
        since=date(2026, 5, 1),
        as_of=date(2026, 10, 1),
        currency="EUR",
        pairs=pairs,
        moved_by=moved,
        moved_together=moved.drop("row_number", "stock_ref"),
        causes=PARTS,
        records={NEW_SALES: 12, PUT_RIGHT: 1, MARKET_FILE: 3},
        settings=("eras",),
        cautions=("2 pairs came in after 1 May 2026: they are valued on that day as if already there.",),
        earlier=replace(source, fit_id="4e3d2c1b0a"),
        source=source,
    )
