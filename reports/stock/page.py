"""The page of the stock: what all pairs are worth together, what to look at, and one row a pair."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline import formats
from pipeline.answers.stock.answer import Stock
from pipeline.answers.stock.tables import (
    NOT_A_SUM,
    doubtful_table,
    groups_table,
    look_table,
    paid_columns,
    pairs_table,
    sold_table,
    state_stock,
    stock_figures,
    weak_column,
)
from pipeline.pictures.photograph import Photograph
from pipeline.untrusted import show_words
from reports.facts import cautions_below, source_line, weak_notice
from reports.links import Link
from reports.page import Figure, Table, render_page, spoken
from reports.photographs import Shown, photograph_words, show_photograph
from reports.stock.groups import groups_chart
from reports.stock.histories import shown_histories

MOST_GROUPS = 12
"""The most groups that the chart draws, the most valuable first; the table has all."""

VALUED = ("median", "band", "best_venue", "net", "margin")


def stock_page(
    stock: Stock,
    *,
    business: str,
    links: Sequence[Link] = (),
    pictures: Sequence[Photograph | None] = (),
    events: pl.DataFrame | None = None,
) -> str:
    """Return the HTML page of a stock list; `business` is the owner's name (untrusted text).

    `pictures` has a photograph of each pair, or None, or is empty; `events` the histories of the pairs (see
    `pipeline.answers.stock.history`).
    """
    tables = (
        look_table(stock),
        pairs_table(stock).showing("stock_ref", "pair", *weak_column(stock), *paid_columns(stock), *VALUED),
        doubtful_table(stock),
        sold_table(stock),
    )
    figures = stock_figures(stock)
    weak = weak_notice(stock.weak)
    return render_page(
        "stock/page.html.j2",
        business=business,
        links=links,
        as_of=formats.day(stock.as_of),
        groups=next(iter(stock_drawings(stock)), None),
        together=figures[0] if figures else None,
        facts=figures[1:],
        sentence=state_stock(stock),
        meaning=NOT_A_SUM,
        tables={
            one.key: Table.of(one, _thumbnails(stock, pictures) if one.key == "pairs" else ())
            for one in tables
            if one.rows.height
        },
        histories=None if events is None else shown_histories(stock, events),
        weak=weak,
        cautions=cautions_below(stock.cautions, weak),
        source=stock.source,
        scripts=("print.js",),
    )


def _thumbnails(stock: Stock, pictures: Sequence[Photograph | None]) -> list[Shown | None]:
    """Return the photograph of each pair as its row shows it; of none, nothing."""
    if not any(pictures):
        return []
    named = stock.pairs.select("silhouette", "colourway", "stock_ref").iter_rows()
    return [
        None if picture is None else show_photograph(picture, photograph_words(*names))
        for picture, names in zip(pictures, named, strict=True)
    ]


def stock_drawings(stock: Stock) -> tuple[Figure, ...]:
    """Return the figures of the page: the groups, where there are pairs."""
    if stock.whole is None:
        return ()
    groups = groups_table(stock)
    shown = replace(groups, rows=groups.rows.head(MOST_GROUPS))
    parts = (*stock.groups, stock.whole)[:MOST_GROUPS]
    rows = pl.DataFrame(
        {
            "words": [
                f"{show_words(group, 60)}, {pairs} pairs"
                for group, pairs in zip(shown.texts_of("group"), shown.texts_of("pairs"), strict=True)
            ],
            "figure": shown.texts_of("median"),
            "tip": [
                f"{band}, at cost {cost}"
                for band, cost in zip(shown.texts_of("band"), shown.texts_of("cost"), strict=True)
            ],
            "low": [part.low for part in parts],
            "median": [part.median for part in parts],
            "high": [part.high for part in parts],
            "cost": [part.cost or None for part in parts],
        },
        schema_overrides={"cost": pl.Float64},
    )
    return (
        Figure(
            key="groups",
            chart=groups_chart(rows, groups.title, stock.currency),
            alternative=f"{groups.title}: {spoken(rows, '{words}: {figure} ({tip})')}.",
            note="Bar: the 80 % band of the group. Dot: its median. Hollow: what it cost.",
            tables=(groups,),
            rows=groups.rows,
            source=source_line(stock),
        ),
    )
