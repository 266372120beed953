"""The interval chart: one row a thing, its estimate in per cent as a dot, its band or error as a bar."""

import altair as alt
import polars as pl

from reports.charts.percent_axis import percent_axis
from reports.charts.rows import place_rows, row_position, row_words, stack_rows


def interval_chart(
    intervals: pl.DataFrame, title: str, axis_title: str, *, room: int = 110
) -> alt.LayerChart:
    """Return one row an estimate: a dot on its bar, about a zero line.

    `intervals` has words and figure (what the row says at its left and right), middle, low, high (per
    cent), and said (what the bar is, for the tooltip). `room` (px) is what the figure needs.
    """
    count = intervals.height
    x = percent_axis([*intervals["low"], *intervals["middle"], *intervals["high"]], axis_title).across
    rows = alt.Chart(place_rows(intervals).with_columns(zero=pl.lit(0.0)))
    top, at = row_position("mark_top", count), row_position("mark_at", count)
    tooltip = [
        alt.Tooltip("words", title="title"),
        alt.Tooltip("figure", title="estimate"),
        alt.Tooltip("said", title="rests on"),
    ]
    layers = [
        rows.mark_rect(style="band-80").encode(
            x=x("low"), x2="high", y=top, y2="mark_bottom", tooltip=tooltip
        ),
        rows.mark_rule(style="zero").encode(x=x("zero"), y=top, y2="mark_bottom"),
        rows.mark_point(style="total", size=80, filled=True).encode(x=x("middle"), y=at, tooltip=tooltip),
        *row_words(rows, "words", "figure", count, room=room),
    ]
    return stack_rows(layers, count, title)
