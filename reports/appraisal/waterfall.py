"""The waterfall: from the pair where it starts to this pair, one attribute a row."""

import altair as alt
import polars as pl

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.frames import step_frame
from reports.charts.price_axis import price_axis
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows

_TO_WORDS_TOP, _TO_WORDS_FOOT = 0.6, 0.24
"""From a mark up to the top and to the foot of its row's words, in rows: a connector leaves them out."""


def waterfall_chart(appraisal: Appraisal) -> alt.LayerChart:
    """Return what each attribute does to the price, with one standard error either way."""
    steps = step_frame(appraisal)
    count = steps.height
    ends = steps.select("before", "after", "low", "high").unpivot().get_column("value").drop_nulls()
    title = f"Running price, all-in ({appraisal.currency})"
    laid = place_rows(steps).with_columns(
        figure=pl.when(pl.col("percent").is_null())
        .then(pl.col("running"))
        .otherwise(pl.col("percent") + "  (" + pl.col("money") + ")"),
    )
    axis = price_axis(ends.to_list(), room=figure_room(laid["figure"]))
    is_step = pl.col("percent").is_not_null()
    tooltip = [
        alt.Tooltip("words", title="title"),
        alt.Tooltip("percent", title="step"),
        alt.Tooltip("spread", title="± one s.e."),
        alt.Tooltip("money", title="in money"),
        alt.Tooltip("running", title="price after"),
        alt.Tooltip("sales_text", title="sales behind it"),
    ]
    bars = [
        alt.Chart(laid.filter(is_step & where))
        .mark_rect(style=style)
        .encode(
            x=axis.encode("before", title),
            x2="after",
            y=row_position("mark_top", count),
            y2="mark_bottom",
            tooltip=tooltip,
        )
        for style, where in (
            ("rise", ~pl.col("guess") & (pl.col("kind") != "fall")),
            ("fall", ~pl.col("guess") & (pl.col("kind") == "fall")),
            ("guess", pl.col("guess")),
        )
    ]
    linked = laid.filter(pl.col("kind") != "total").with_columns(
        words_top=pl.col("next_mark") - _TO_WORDS_TOP, words_foot=pl.col("next_mark") - _TO_WORDS_FOOT
    )
    links = [
        alt.Chart(linked)
        .mark_rule(style="link")
        .encode(x=axis.encode("after", title), y=row_position(start, count), y2=end)
        for start, end in (("mark_at", "words_top"), ("words_foot", "next_mark"))
    ]
    errors = (
        alt.Chart(laid.filter(is_step))
        .mark_rule(style="error")
        .encode(x=axis.encode("low", title), x2="high", y=row_position("mark_at", count), tooltip=tooltip)
    )
    ends_marks = (
        alt.Chart(laid.filter(~is_step))
        .mark_point(style="total", size=110, filled=True, shape="diamond")
        .encode(
            x=axis.encode("after", title),
            y=row_position("mark_at", count),
            tooltip=[alt.Tooltip("words", title="title"), alt.Tooltip("running", title="price")],
        )
    )
    words = row_words(alt.Chart(laid), "words", "figure", count)
    return stack_rows([*links, *bars, errors, ends_marks, *words], count, "What makes the price")
