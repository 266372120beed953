"""The page of what changed: all pairs together, then one row a pair."""

from collections.abc import Sequence

import polars as pl

from pipeline import formats
from pipeline.answers.changed.answer import MARKET, Changed
from pipeline.answers.changed.tables import (
    METHOD,
    changed_figures,
    differing_table,
    moved_table,
    moved_together_table,
    pairs_table,
    parts_table,
    state_changed,
    whole_units,
)
from pipeline.untrusted import show_sentences
from reports.changed.parts import parts_chart
from reports.facts import source_line
from reports.links import Link
from reports.page import Figure, Table, render_page, spoken

NOTE = "Diamond: the sum of fair values. Bar: a part of the change. Line: one standard error either way."


def changed_page(changed: Changed, *, business: str, links: Sequence[Link] = ()) -> str:
    """Return the HTML page of what changed; `business` is the owner's name (untrusted text)."""
    tables = (
        pairs_table(changed, whole=True).showing(
            "stock_ref", "pair", "then", "now", "change", "share", *changed.causes, "market_error"
        ),
        differing_table(changed),
        moved_together_table(changed),
        moved_table(changed),
    )
    figures = changed_figures(changed)
    return render_page(
        "changed/page.html.j2",
        business=business,
        links=links,
        since=formats.day(changed.since),
        as_of=formats.day(changed.as_of),
        parts=next(iter(changed_drawings(changed)), None),
        change=figures[-1][1] if figures else "",
        facts=figures[:-1],
        sentences=state_changed(changed),
        method=METHOD,
        tables={one.key: Table.of(one) for one in tables if one.rows.height},
        cautions=[show_sentences(caution) for caution in changed.cautions],
        source=changed.source,
    )


def changed_drawings(changed: Changed) -> tuple[Figure, ...]:
    """Return the figures of the page: the parts of the change, where there are pairs."""
    if not changed.pairs.height:
        return ()
    parts = parts_table(changed)
    (first, then), (last, now), _ = changed_figures(changed)
    rows = _running(changed, parts.rows).with_columns(
        words=pl.Series([first, *parts.texts_of("name"), last]),
        figure=pl.Series([then, *parts.texts_of("money"), now]),
        tip=pl.Series([then, *parts.texts_of("behind"), now]),
    )
    return (
        Figure(
            key="parts",
            chart=parts_chart(rows, parts.title, changed.currency),
            alternative=f"{parts.title}: {spoken(rows, '{words}: {figure}')}.",
            note=NOTE,
            tables=(parts,),
            rows=parts.rows,
            source=source_line(changed),
        ),
    )


def _running(changed: Changed, parts: pl.DataFrame) -> pl.DataFrame:
    """Return kind, before, after, low and high of each row of the chart: then, the parts, now."""
    [whole] = whole_units(changed).to_dicts()
    money = pl.Series([0.0, *parts["money"], 0.0])
    after = whole["then"] + money.cum_sum()
    around = pl.when(pl.col("part") == MARKET).then(whole["market_error"])
    return pl.DataFrame({"part": ["", *parts["part"], ""], "money": money, "after": after}).select(
        kind=pl.when(pl.col("part") == "")
        .then(pl.lit("total"))
        .when(pl.col("money") == 0)
        .then(pl.lit("still"))
        .when(pl.col("money") > 0)
        .then(pl.lit("rise"))
        .otherwise(pl.lit("fall")),
        before=pl.col("after") - pl.col("money"),
        after="after",
        low=pl.col("after") - around,
        high=pl.col("after") + around,
    )
