"""The page of upcoming lots: what to bid on, how far to go, and why not; it sorts and filters by itself."""

from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.answers.lots.answer import BID, CLOSED, LEAVE, LOOK, NONE, LotList
from pipeline.market.outlook import CHANCES
from pipeline.untrusted import show_words
from reports.facts import source_line
from reports.lots.room_to_bid import room_chart
from reports.page import Column, Figure, render_page, tabulate, write_page

MOST_DRAWN = 12
"""The most lots that the chart draws, the best first."""

MOST_ROWS = 2000
"""The most lots that the page holds; the CSV and the workbook hold all."""

VERDICTS: dict[str, str] = {
    BID: "The next bid is within the walk-away bid, and nothing speaks against it.",
    LOOK: "The next bid would be within it, but something has to be looked at first: see the flags.",
    LEAVE: "The next bid would exceed the walk-away bid.",
    NONE: "What a bid would cost cannot be worked out; the line says why.",
    CLOSED: "Its sale was over before the day of valuation.",
}


def lots_page(listed: LotList, *, business: str) -> str:
    """Return the HTML page of a lot list; `business` is the owner's name (untrusted text)."""
    shown = listed.lots.head(MOST_ROWS)
    drawn = lots_figures(listed)
    return render_page(
        "lots/page.html.j2",
        charts=bool(drawn),
        own_scripts=("lots/page.js",),
        room=drawn[0] if drawn else None,
        business=business,
        as_of=formats.day(listed.as_of),
        sentence=state_lots(listed),
        rows=[_row(lot, listed.currency) for lot in shown.iter_rows(named=True)],
        left_off=listed.lots.height - shown.height,
        verdicts=VERDICTS,
        terms=_terms(listed),
        currency=listed.currency,
        cautions=[show_words(caution) for caution in listed.cautions],
        refused=[show_words(line) for line in listed.refused],
        source=listed.source,
    )


def lots_figures(listed: LotList) -> tuple[Figure, ...]:
    """Return the figures of the page: the room to bid on the best lots, where there are any."""
    best = listed.lots.filter(
        pl.col("verdict").is_in([BID, LOOK]), pl.col("landed_cost") > 0, pl.col("walk_away_landed") > 0
    ).head(MOST_DRAWN)
    if not best.height:
        return ()
    names = [f"{lot['rank']}. {show_words(_name(lot), 90)}" for lot in best.iter_rows(named=True)]
    paid, most = (
        [formats.estimate(amount, listed.currency) for amount in best[name]]
        for name in ("landed_cost", "walk_away_landed")
    )
    rows = best.select(
        landed="landed_cost",
        walk_away="walk_away_landed",
        words=pl.Series(names),
        figure=pl.Series(most),
        tip=pl.Series(
            [
                f"{low} at the present bid, {high} at the walk-away bid"
                for low, high in zip(paid, most, strict=True)
            ]
        ),
    )
    table = {"words": Column("Lot"), "tip": Column("Landed")}
    spoken = "; ".join(f"{words}: {tip}" for words, tip in rows.select("words", "tip").iter_rows())
    figure = Figure(
        key="room",
        chart=room_chart(rows, listed.currency),
        alternative=f"What the best lots cost landed, at the present bid and at the walk-away bid: {spoken}.",
        note=f"Hollow: landed at the present bid. Filled: landed at the walk-away bid (the figure at the right). "
        f"{source_line(listed)}",
        tables=(tabulate(rows, "Room to bid on the best lots", table),),
        rows=rows.select("words", "landed", "walk_away"),
    )
    return (figure,)


def write_lots(listed: LotList, path: Path, *, business: str) -> Path:
    """Write the page of a lot list and return its path; raises ReportError where it cannot."""
    return write_page(lots_page(listed, business=business), path)


def state_lots(listed: LotList) -> str:
    """Return the answer in a sentence or two."""
    counts = dict(listed.lots["verdict"].value_counts().iter_rows())
    total = formats.counted(listed.lots.height, "lot")
    open_to = counts.get(BID, 0)
    verb = "is" if open_to == 1 else "are"
    opening = f"{total}: {open_to} {verb} worth a bid today"
    if counts.get(LOOK, 0):
        opening += f", {counts[LOOK]} more once somebody has looked"
    if counts.get(CLOSED, 0):
        over = "its sale was" if counts[CLOSED] == 1 else "their sales were"
        opening += f"; for {counts[CLOSED]}, {over} over before that day"
    first = listed.lots.filter(pl.col("verdict") == BID).head(1)
    if not first.height:
        return f"{opening}."
    lot = first.row(0, named=True)
    bid = formats.amount(lot["walk_away_bid"], lot["native_currency"])
    return f"{opening}. First: {show_words(_name(lot), 90)}, up to {bid}."


def _terms(listed: LotList) -> str:
    terms = listed.terms
    where = f"sold again at {terms.sells_at}" if terms.sells_at else "sold again where it was bought"
    return show_words(
        f"A walk-away bid is the most at which {formats.level(terms.confidence)} of outcomes leave a margin of "
        f"{formats.level(terms.margin)} of what the resale brings in, {where}, after fees, freight, duty, tax and "
        f"{formats.amount(terms.costs, listed.currency)} of costs in the house. "
        "It is rounded down to a bid that the house takes."
    )


def _name(lot: dict[str, object]) -> str:
    parts = (lot["silhouette"], lot["colourway"], lot["era"])
    return " ".join(str(part) for part in parts if part) or str(lot["title"] or "(no title)")


def _row(lot: dict[str, object], currency: str) -> dict[str, object]:
    """Return what the page says of one lot, with the numbers by which it sorts."""
    native = str(lot["native_currency"] or currency)
    flags = lot["flags"] if isinstance(lot["flags"], list) else []
    reference = " ".join(str(part) for part in (lot["sale_ref"], lot["lot_ref"]) if part)
    return {
        "rank": lot["rank"],
        "verdict": lot["verdict"],
        "name": show_words(_name(lot), 120),
        "title": show_words(str(lot["title"] or ""), 160),
        "grade": "" if lot["grade"] is None else f"grade {lot['grade']:g}",
        "venue": show_words(str(lot["venue"] or ""), 80),
        "reference": show_words(reference, 60),
        "closes": "" if lot["closes_on"] is None else formats.day(lot["closes_on"]),  # type: ignore[arg-type]
        "flags": [show_words(flag, 80) for flag in flags],
        "why": show_words(str(lot["why"] or "")),
        "cells": [
            _cell("Present bid", lot["present_bid"], native, "bid", key=_number(lot["landed_cost"])),
            _cell("Landed at it", lot["landed_cost"], currency, "amount"),
            _cell("Walk-away bid", lot["walk_away_bid"], native, "bid", key=_number(lot["walk_away_landed"])),
            _cell("Fair value", lot["median"], currency, "estimate", below=_band(lot, currency)),
            _cell("Expected gain", lot["expected_gain"], currency, "gain"),
            _chance(lot["chance_of_loss"]),
        ],
    }


def _number(value: object) -> float | None:
    return value if isinstance(value, float) else None


def _cell(
    label: str, value: object, currency: str, kind: str, *, below: str = "", key: float | None = None
) -> dict[str, object]:
    number = _number(value)
    if number is None or (kind == "bid" and number == 0):
        text = "none" if kind == "bid" and number == 0 else "–"
    elif kind == "gain":
        text = formats.change(number, currency, price=formats.SMALL)
    elif kind == "estimate":
        text = formats.estimate(number, currency)
    else:
        text = formats.amount(number, currency)
    sorts_by = number if key is None else key
    return {
        "label": label,
        "text": text,
        "below": below,
        "key": "" if sorts_by is None else f"{sorts_by:.4f}",
    }


def chance_words(chance: float | None) -> str:
    """Return a chance of loss; at the ends of what is tabulated, only that it lies beyond them."""
    if chance is None:
        return "–"
    least, most = CHANCES[0], CHANCES[-1]
    if chance <= least + 1e-9:
        return "under 3\u00a0%"
    return "over 97\u00a0%" if chance >= most - 1e-9 else formats.level(chance)


def _chance(value: object) -> dict[str, object]:
    chance = _number(value)
    return {
        "label": "Chance of loss",
        "text": chance_words(chance),
        "below": "",
        "key": "" if chance is None else f"{chance:.4f}",
    }


def _band(lot: dict[str, object], currency: str) -> str:
    low, high = _number(lot["low_80"]), _number(lot["high_80"])
    if low is None or high is None:
        return ""
    return f"{formats.estimate(low, currency)} – {formats.estimate(high, currency)}"
