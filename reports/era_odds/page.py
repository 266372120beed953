"""The page of a pair whose era is in doubt: the mixed band, each era beside it, and what an answer is worth."""

import polars as pl

from pipeline import formats
from pipeline.answers.era_odds.answer import MIDDLE, EraInDoubt
from pipeline.answers.era_odds.tables import (
    eras_table,
    finding_out_words,
    learned_tables,
    origin_words,
    state_doubt,
)
from pipeline.answers.sheet import NONE
from pipeline.untrusted import show_sentences, show_words
from reports.era_odds.chart import era_odds_chart
from reports.facts import cautions_below, pair_facts, pair_heading, source_line, weak_notice
from reports.page import Figure, Table, render_page, spoken


def era_odds_page(doubt: EraInDoubt, *, business: str) -> str:
    """Return the HTML page of a pair whose era is in doubt; `business` is the owner's name (untrusted text)."""
    heading, subheading = pair_heading(doubt.pair)
    weak = weak_notice(doubt.weak)
    origin = origin_words(doubt)
    return render_page(
        "era_odds/page.html.j2",
        business=business,
        heading=heading,
        subheading=subheading,
        as_of=formats.day(doubt.as_of),
        median=formats.estimate(doubt.median, doubt.currency),
        weak=weak,
        sentence=state_doubt(doubt),
        eras_figure=_figure(doubt),
        finding_out=finding_out_words(doubt),
        origin=origin[:2],
        counted=[show_sentences(line) for line in origin[2:]],
        learned=[Table.of(one) for one in learned_tables(doubt.learned)],
        facts=[(name, value) for name, value in pair_facts(doubt.pair) if name != "Era"],
        cautions=cautions_below(doubt.cautions, weak),
        source=doubt.source,
    )


def era_odds_figures(doubt: EraInDoubt) -> tuple[Figure, ...]:
    """Return the figures of the page."""
    return (_figure(doubt),)


def _figure(doubt: EraInDoubt) -> Figure:
    eras = eras_table(doubt)
    texts = [(show_words(era, 80), chance, median, span) for era, chance, median, span, _ in eras.texts()]
    rows = eras.rows.select(
        pl.Series("words", [era if chance == NONE else f"{era} ({chance})" for era, chance, _, _ in texts]),
        pl.Series("figure", [median for _, _, median, _ in texts]),
        pl.Series("range", [span for _, _, _, span in texts]),
        *(pl.col("median").alias("middle"), "low", "high"),
        "chance",
        guess=(pl.col("sales") == 0).fill_null(value=False),
    )
    unsold = " Dashed: no sale of this silhouette in that era." if rows["guess"].any() else ""
    in_words = spoken(rows, "{words} {figure}, {range}")
    return Figure(
        key="eras",
        chart=era_odds_chart(rows, doubt.currency),
        alternative=f"Median and {formats.level(MIDDLE)} band of the price: {in_words}.",
        note=f"Dot: the median. Bar: the {formats.level(MIDDLE)} band, "
        f"in the first row one for each era, as thick as its chance.{unsold}",
        tables=(eras,),
        rows=eras.rows.select("words", "chance", "median", "low", "high"),
        source=source_line(doubt),
    )
