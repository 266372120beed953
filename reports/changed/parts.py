"""The chart of what changed: from the values then to the values now, one part of the change a row."""

import altair as alt
import polars as pl

from reports.charts.price_axis import price_axis
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows


def parts_chart(steps: pl.DataFrame, title: str, currency: str) -> alt.LayerChart:
    """Return the values then and now (diamonds), and between them a bar for each part of the change.

    `steps` has words and figure (of the row), tip, kind ("total", "rise", "fall" or "still"), before and after (the
    running sum, `currency`), low and high (one standard error either way of after, null where it is not known).
    """
    count = steps.height
    rows = place_rows(steps)
    ends = steps.select("before", "after", "low", "high").unpivot().get_column("value").drop_nulls()
    axis = price_axis(ends.to_list(), room=figure_room(steps["figure"]))
    heading = f"Running sum of fair values, all-in ({currency})"
    tooltip = [alt.Tooltip("words", title="title"), alt.Tooltip("tip", title="value")]
    bars = [
        alt.Chart(rows.filter(pl.col("kind") == style))
        .mark_rect(style=style)
        .encode(
            x=axis.encode("before", heading),
            x2="after",
            y=row_position("mark_top", count),
            y2="mark_bottom",
            tooltip=tooltip,
        )
        for style in ("rise", "fall")
    ]
    links = (
        alt.Chart(rows[:-1])
        .mark_rule(style="link")
        .encode(x=axis.encode("after", heading), y=row_position("mark_at", count), y2="next_mark")
    )
    errors = (
        alt.Chart(rows.filter(pl.col("low").is_not_null()))
        .mark_rule(style="error")
        .encode(x=axis.encode("low", heading), x2="high", y=row_position("mark_at", count), tooltip=tooltip)
    )
    points = [
        alt.Chart(rows.filter(pl.col("kind") == kind))
        .mark_point(style=style, size=size, filled=True, shape=shape)
        .encode(x=axis.encode("after", heading), y=row_position("mark_at", count), tooltip=tooltip)
        for kind, style, size, shape in (
            ("still", "no-change", 55, "circle"),
            ("total", "total", 110, "diamond"),
        )
    ]
    words = row_words(alt.Chart(rows), "words", "figure", count)
    return stack_rows([links, *bars, errors, *points, *words], count, title)
