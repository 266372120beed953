"""The waterfall: from the pair where it starts to this pair, one attribute a row."""

from textwrap import wrap

import altair as alt
import polars as pl

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.frames import step_frame
from reports.charts.price_axis import price_axis
from reports.charts.rows import HEIGHT, figure_room, place_rows, row_position, row_words, stack_rows

START_LINE = 42
"""The most characters of a line of the start's words: what a phone's chart can show."""
_LINE = 17 / HEIGHT
"""The height of a line of words, in rows."""
NO_CHANGE = "no change"


def waterfall_chart(appraisal: Appraisal) -> alt.LayerChart:
    """Return what each attribute does to the price, with one standard error either way."""
    steps = step_frame(appraisal)
    start = wrap(steps["words"][0], START_LINE)
    above = (len(start) - 1) * _LINE
    count = steps.height + above
    ends = steps.select("before", "after", "low", "high").unpivot().get_column("value").drop_nulls()
    title = f"Running price, all-in ({appraisal.currency})"
    still = pl.col("percent").str.contains("[1-9]").not_()
    laid = place_rows(steps, first=above).with_columns(
        figure=pl.when(pl.col("percent").is_null())
        .then(pl.col("running"))
        .when(still & ~pl.col("guess"))
        .then(pl.lit(NO_CHANGE))
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
    links = (
        alt.Chart(laid.filter(pl.col("kind") != "total"))
        .mark_rule(style="link")
        .encode(x=axis.encode("after", title), y=row_position("mark_at", count), y2="next_mark")
    )
    errors = (
        alt.Chart(laid.filter(is_step))
        .mark_rule(style="error")
        .encode(x=axis.encode("low", title), x2="high", y=row_position("mark_at", count), tooltip=tooltip)
    )
    unmoved = (
        alt.Chart(laid.filter(still))
        .mark_point(style="no-change", size=55, filled=True)
        .encode(x=axis.encode("after", title), y=row_position("mark_at", count), tooltip=tooltip)
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
    lines = laid[[0] * len(start)].with_columns(
        words=pl.Series(start),
        words_at=pl.col("words_at") - above + pl.int_range(pl.len()) * _LINE,
        figure=pl.when(pl.int_range(pl.len()) == 0).then("figure").otherwise(pl.lit("")),
    )
    words = row_words(alt.Chart(pl.concat([lines, laid[1:]])), "words", "figure", count)
    return stack_rows([links, *bars, errors, unmoved, ends_marks, *words], count, "What makes the price")
