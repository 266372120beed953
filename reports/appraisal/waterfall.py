"""The waterfall: from the pair where it starts to this pair, one attribute a row."""

import altair as alt
import polars as pl

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.frames import step_frame
from reports.charts.price_axis import price_axis
from reports.charts.rows import place_rows, row_position, row_words, stack_rows


def waterfall_chart(appraisal: Appraisal) -> alt.LayerChart:
    """Return what each attribute does to the price, with one standard error either way."""
    steps = step_frame(appraisal)
    count = steps.height
    ends = steps.select("before", "after", "low", "high").unpivot().get_column("value").drop_nulls()
    axis = price_axis(ends.to_list())
    title = f"Running price, all-in ({appraisal.currency})"
    laid = place_rows(steps).with_columns(
        figure=pl.when(pl.col("percent").is_null())
        .then(pl.col("running"))
        .otherwise(pl.col("percent") + "  (" + pl.col("money") + ")"),
    )
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
        .encode(
            x=axis.encode("after", title),
            y=row_position("mark_at", count),
            y2="next_mark",
        )
    )
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
    words = row_words(alt.Chart(laid), "words", "figure", count, room=130)
    return stack_rows([links, *bars, errors, ends_marks, *words], count, "What makes the price")
