"""The page of upcoming lots: what to bid on, how far to go, and why not; it sorts and filters by itself."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers import sheet
from pipeline.answers.lots.answer import BID, CLOSED, LOOK, PASS, UNKNOWN_COST, WEAK_FLAGS, LotList
from pipeline.answers.lots.tables import in_base, lot_name, lots_table, page_numbers, state_lots, state_terms
from pipeline.untrusted import show_sentences, show_words
from reports.facts import cautions_below, source_line, weak_notice
from reports.links import Link
from reports.lots.room_to_bid import room_chart
from reports.page import Figure, render_page, spoken

MOST_DRAWN = 12
"""The most lots that the chart draws, the best first."""

MOST_ROWS = 2000
"""The most lots that the page has; the CSV and the workbook have all."""

VERDICTS: dict[str, str] = {
    BID: "The next bid, or the fixed price, is within the maximum bid, and there are no warnings.",
    LOOK: "The next bid, or the fixed price, is within the maximum bid, but check the flags first.",
    PASS: "The next bid, or the fixed price, exceeds the maximum bid.",
    UNKNOWN_COST: "The cost of a bid cannot be worked out; the line says why.",
    CLOSED: "Its sale was over before the day of valuation.",
}


def lots_page(listed: LotList, *, business: str, links: Sequence[Link] = ()) -> str:
    """Return the HTML page of a lot list; `business` is the owner's name (untrusted text)."""
    table = lots_table(listed)
    weak = weak_notice(listed.weak)
    shown = table.rows.head(MOST_ROWS)
    drawn = lots_figures(listed)
    sorts = page_numbers(listed)
    numbers = table.showing(*sorts).columns
    written = table.showing(
        *sorts, "grade", "closes_on", in_base("low_80", listed), in_base("high_80", listed)
    )
    rows = [_row(lot, written, sorts, listed) for lot in shown.iter_rows(named=True)]
    still = [row for row in rows if row["verdict"] != CLOSED]
    closed = [row for row in rows if row["verdict"] == CLOSED]
    return render_page(
        "lots/page.html.j2",
        scripts=("lots/page.js",) if still or not closed else (),
        own_style="lots/page.css",
        room=drawn[0] if drawn else None,
        business=business,
        links=links,
        as_of=formats.day(listed.as_of),
        sentence=show_sentences(state_lots(listed)),
        columns=[column.heading for column in numbers],
        open=still,
        closed=closed,
        left_off=listed.lots.height - shown.height,
        verdicts=VERDICTS,
        terms=show_sentences(state_terms(listed.terms, listed.currency)),
        weak=weak,
        cautions=cautions_below(listed.cautions, weak),
        refused=[show_sentences(line) for line in listed.refused],
        source=listed.source,
    )


def lots_figures(listed: LotList) -> tuple[Figure, ...]:
    """Return the figures of the page: the room to bid on the best lots, where there are any."""
    now, most = in_base("landed_cost", listed), in_base("walk_away_landed", listed)
    table = lots_table(listed).showing("rank", "silhouette", "colourway", "era", now, most)
    best = table.rows.filter(pl.col("verdict").is_in([BID, LOOK]), pl.col(now) > 0, pl.col(most) > 0)
    best = best.head(MOST_DRAWN)
    if not best.height:
        return ()
    title = "Room to bid on the best lots"
    drawn = replace(table, title=title, rows=best.select(column.key for column in table.columns))
    paid, bid_up = drawn.texts_of(now), drawn.texts_of(most)
    rows = best.select(
        landed=now,
        walk_away=most,
        words=pl.Series(
            [f"{lot['rank']}. {show_words(lot_name(lot), 90)}" for lot in best.iter_rows(named=True)]
        ),
        figure=pl.Series(bid_up),
        tip=pl.Series(
            [
                f"{low} at the present bid, {high} at the maximum bid"
                for low, high in zip(paid, bid_up, strict=True)
            ]
        ),
    )
    in_words = spoken(rows, "{words}: {tip}")
    figure = Figure(
        key="room",
        chart=room_chart(rows, listed.currency),
        alternative=f"What the best lots cost, all costs in, at the present bid and at the maximum bid: {in_words}.",
        note="Hollow: the cost if won now. Filled: the cost at the maximum bid (the number at the right).",
        tables=(drawn,),
        rows=drawn.rows,
        source=source_line(listed),
    )
    return (figure,)


def _row(
    lot: Mapping[str, Any], table: sheet.Table, sorts: Mapping[str, str], listed: LotList
) -> dict[str, Any]:
    """Return what the page says of one lot, with the numbers by which it sorts."""
    texts = {column.key: column.text(lot) for column in table.columns}
    headings = {column.key: column.heading for column in table.columns}
    flags = [flag for flag in lot["flags"].split("; ") if flag]
    weak, value = any(flag in WEAK_FLAGS for flag in flags), in_base("median", listed)
    ends = [texts[in_base(name, listed)] for name in ("low_80", "high_80")]
    return {
        "rank": lot["rank"],
        "verdict": lot["verdict"],
        "name": show_words(lot_name(lot), 120),
        "title": show_words(lot["title"] or "", 160),
        "grade": "" if lot["grade"] is None else f"grade {texts['grade']}",
        "venue": show_words(lot["venue"] or "", 80),
        "reference": show_words(" ".join(part for part in (lot["sale_ref"], lot["lot_ref"]) if part), 60),
        "closes": "" if lot["closes_on"] is None else texts["closes_on"],
        "flags": [show_words(flag, 80) for flag in flags],
        "weak": weak,
        "why": show_words(lot["why"] or ""),
        "cells": [
            {
                "label": headings[key],
                "text": f"about {texts[key]}" if weak and key == value else texts[key],
                "below": " – ".join(ends) if key == value else "",
                "key": "" if lot[by] is None else f"{lot[by]:.4f}",
            }
            for key, by in sorts.items()
        ],
    }
