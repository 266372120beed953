"""The bid sheet: what to take to the sales, one line a lot in order of closing, with room to write."""

from collections.abc import Iterable, Mapping
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.lots.answer import BID, CLOSED, LOOK, LotList
from pipeline.answers.lots.tables import lot_name
from pipeline.untrusted import show_words
from reports.page import render_page

NO_DAY = "No day given"


def bid_sheet_page(listed: LotList, *, business: str) -> str:
    """Return the HTML of the bid sheet: the lots to bid on, then those without a bid to make, by sale day and venue.

    Lots that have closed are left off; the sheet says how many.
    """
    open_lots = listed.lots.filter(pl.col("verdict") != CLOSED)
    to_bid_on = pl.col("verdict").is_in([BID, LOOK]) & (pl.col("walk_away_bid") > 0).fill_null(value=False)
    closed = listed.lots.height - open_lots.height
    return render_page(
        "lots/bid_sheet.html.j2",
        own_style="lots/bid_sheet.css",
        business=business,
        as_of=formats.day(listed.as_of),
        currency=listed.currency,
        timed=bool(open_lots["closes_at"].is_not_null().any()),
        sales=_sales(open_lots.filter(to_bid_on), listed.currency),
        others=_sales(open_lots.filter(~to_bid_on), listed.currency),
        closed=f"{formats.counted(closed, 'lot')} closed before that day." if closed else "",
    )


def _sales(lots: pl.DataFrame, currency: str) -> list[tuple[str, list[dict[str, str]]]]:
    """Return (day and venue, the lots of it) in order of closing; without a time, in the order of lot numbers."""
    number = pl.col("lot_ref").str.extract(r"(\d+)").cast(pl.Int64, strict=False)
    ordered = lots.sort(
        "closes_on",
        "venue",
        "closes_at",
        number,
        "lot_ref",
        "row_number",
        nulls_last=True,
        maintain_order=True,
    )
    sales: dict[str, list[dict[str, str]]] = {}
    for lot in ordered.iter_rows(named=True):
        day = formats.day(lot["closes_on"]) if lot["closes_on"] else NO_DAY
        sales.setdefault(f"{day}, {show_words(lot['venue'] or 'venue not given', 80)}", []).append(
            _line(lot, currency)
        )
    return list(sales.items())


def _line(lot: Mapping[str, Any], currency: str) -> dict[str, str]:
    """Return what the sheet says of a lot."""
    most, costs = lot["walk_away_bid"], lot["walk_away_landed"]
    grade = "" if lot["grade"] is None else f"grade {lot['grade']:g}"
    return {
        "at": lot["closes_at"] or "",
        "number": show_words(lot["lot_ref"] or "–", 30),
        "pair": ", ".join(part for part in (show_words(lot_name(lot), 70), grade) if part),
        "most": formats.amount(most, lot["native_currency"] or currency) if most else "",
        "costs": formats.amount(costs, currency) if costs else "",
        "why": show_words("; ".join(_reasons(lot)), 160),
        "look": show_words(", ".join(lot["flags"]), 120) if lot["verdict"] == LOOK else "",
    }


def _reasons(lot: Mapping[str, Any]) -> Iterable[str]:
    """Yield why there is no bid to make on a lot."""
    if lot["why"]:
        yield lot["why"]
    elif not lot["walk_away_bid"]:
        yield "no bid leaves your margin"
    else:
        currency = lot["native_currency"]
        yield f"the bids have passed your maximum of {formats.amount(lot['walk_away_bid'], currency)}"
