"""What in the market file an export's reading and a fit rest on: the one list that decides what is stale.

Everything else (the workshop, bids, margins, the maps' file patterns, who the owner is) changes answers, and
neither the records nor the fit.
"""

import hashlib
import json
from typing import Any

import polars as pl

from pipeline import __version__
from pipeline.config import ExportMap, Market

READING = 6
"""Raised when rows are read or kept in another way, so that a file read before is read again.

2: contact details are masked, and quarantine keeps the columns that the map reads. 3: the cells of each row are kept.
4: grades keep their signs, years say eras, misspelt names are read, and notes are read as titles are. 5: an asking
price may be a range, a day may end in a word for the year, and a price may be without its tax.
"""

RECORDS: dict[str, Any] = {
    "base_currency": True,
    "eras": True,
    "words": True,
    "colourways": True,
    "makers": True,
    "silhouettes": {"__all__": {"name", "maker", "phrases", "colourways"}},
    "treatments": {"__all__": {"name", "phrases"}},
    "defects": True,
    "parts": True,
    "venues": {"__all__": {"name", "currency", "fees"}},
    "rates": {"oldest_days"},
}
"""What decides how any export is read, beside its own map and the exchange rates themselves."""

MAP_APART = {"files", "holds"}
"""What of an export map chooses the files that it is for, and does not decide how they are read."""

FIT: dict[str, Any] = RECORDS | {"model": True}
"""What decides a fit: how its records are read, and the model."""


def reading_digest(export_map: ExportMap, market: Market, rates: pl.DataFrame) -> str:
    """Return a digest of all that decides how a file is read, beside the file itself.

    `rates` are the exchange rates that hold (currency, day, per_euro, in order).
    """
    decides = {
        "program": __version__,
        "reading": READING,
        "map": export_map.model_dump(mode="json", exclude=MAP_APART),
        **({} if export_map.holds == "sales" else {"holds": export_map.holds}),
        "market": market.model_dump(mode="json", include=RECORDS),
        "rates": _rates_digest(rates),
    }
    return hashlib.sha256(json.dumps(decides, sort_keys=True).encode()).hexdigest()


def records_decided_by(market: Market) -> str:
    """Return all that the market file decides of how any export is read, as JSON."""
    maps = {name: one.model_dump(mode="json", exclude=MAP_APART) for name, one in market.maps.items()}
    return json.dumps([market.model_dump(mode="json", include=RECORDS | {"rates": True}), maps])


def fit_decided_by(market: Market) -> str:
    """Return all that the market file decides of a fit, as JSON."""
    return market.model_dump_json(include=FIT)


def market_digest(market: Market) -> str:
    """Return a digest of all that the market file decides of a fit."""
    return hashlib.sha256(fit_decided_by(market).encode()).hexdigest()[:16]


def _rates_digest(rates: pl.DataFrame) -> str:
    digest = hashlib.sha256((rates["currency"].str.join("\n").item() or "").encode())
    digest.update(rates["day"].cast(pl.Int32).to_numpy().astype("<i4").tobytes())
    digest.update(rates["per_euro"].to_numpy().astype("<f8").tobytes())
    return digest.hexdigest()
