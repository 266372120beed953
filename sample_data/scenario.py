"""The scenario: its market, its calendar, and what is made of what. All names are invented.

Makers, silhouettes, colourways, eras, venues, defects and treatments are those of `market.toml` in
this folder; here stands only what a market file does not hold.
"""

from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

from pipeline.config import Market, load_market

FIRST_DAY = date(2017, 10, 1)
LAST_DAY = date(2026, 9, 30)
"""The day of the exports: what is not closed by then is still open."""

MONTHS = 108
"""Months from FIRST_DAY to LAST_DAY, both counted."""

HOLM = "Holm Sound Auctions"
LANTERN = "Lantern Dock"
UMIKAZE = "Umikaze Lots"
COUNTER = "Tidewrack Counter"

VENUE_SHARES: dict[str, float] = {HOLM: 0.37, LANTERN: 0.29, UMIKAZE: 0.19, COUNTER: 0.15}
"""The share of the sales that each venue has."""

AUCTION_WEEKDAY: dict[str, int] = {HOLM: 6, UMIKAZE: 7}
"""The weekday (1 = Monday) on which an auction house sells; both sell when no rate is published."""

LISTING_DAYS: dict[str, int] = {LANTERN: 90, COUNTER: 240}
"""How long a fixed-price listing stands before it ends unsold, in days."""

ERA_SHARES: dict[str, float] = {"first": 0.22, "second": 0.28, "early reissue": 0.22, "late reissue": 0.28}
"""The share of each era among the sales of a silhouette that was made in all of them."""

LAST_PRODUCTION_YEAR = 2024

FOOT_MM_SHARES: dict[int, float] = {
    240: 0.02,
    245: 0.03,
    250: 0.05,
    255: 0.08,
    260: 0.15,
    265: 0.13,
    270: 0.15,
    275: 0.13,
    280: 0.10,
    285: 0.06,
    290: 0.06,
    295: 0.02,
    300: 0.01,
    305: 0.01,
}
"""The share of each foot length, in mm on the 5 mm axis."""

FACTORIES: dict[str, tuple[str, ...]] = {
    "Ostrel": ("KX2", "KX5", "LN1"),
    "Marrowick": ("MW7", "HB3"),
    "Tarnfold": ("TF1", "TF4", "RD2"),
    "Veskel": ("VS9", "QD6"),
}
"""The factory codes that stand on a maker's production stamps."""


@dataclass(frozen=True)
class Build:
    """What a silhouette is made of."""

    overlay: str
    lasting: str


BUILDS: dict[str, Build] = {
    "Gannet Hi": Build("leather", "board"),
    "Plover Lo": Build("textile", "foam"),
    "Gannet Lo": Build("leather", "board"),
    "Skua Hi": Build("vinyl", "board"),
    "Sanderling": Build("vinyl", "foam"),
    "Petrel Mid": Build("leather", "board"),
    "Dunlin": Build("textile", "foam"),
    "Turnstone": Build("vinyl", "board"),
    "Cormorant": Build("leather", "board"),
    "Whimbrel": Build("vinyl", "foam"),
    "Fulmar": Build("textile", "foam"),
    "Guillemot": Build("leather", "foam"),
    "Eider": Build("vinyl", "foam"),
    "Razorbill": Build("leather", "board"),
}


@cache
def market() -> Market:
    """Return the scenario's market file, validated."""
    return load_market(Path(__file__).with_name("market.toml"))
