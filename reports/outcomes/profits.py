"""The chart of profits: one bar a group, from zero to what it left."""

import altair as alt
import polars as pl

from reports.charts.price_axis import across_range
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows


def profits_chart(groups: pl.DataFrame, title: str, currency: str) -> alt.LayerChart:
    """Return one row a group: a bar from zero to its profit, at the left of zero for a loss.

    `groups` has words, figure, tip (String) and profit (Float64, `currency`).
    """
    count = groups.height
    rows = place_rows(groups).with_columns(zero=0.0)
    low, high = min(0.0, *groups["profit"]), max(0.0, *groups["profit"])
    pad = (high - low or 1.0) * 0.03
    ends = [float(f"{end:.6g}") for end in (low - pad if low < 0 else 0.0, high + pad if high > 0 else 0.0)]
    across = alt.X(
        "zero",
        type="quantitative",
        title=f"Profit ({currency})",
        scale=alt.Scale(domain=ends, nice=False, range=across_range(figure_room(groups["figure"]))),
        axis=alt.Axis(format=",.0f", tickCount=5, labelOverlap=True),
    )
    tooltip = [alt.Tooltip("words", title="title"), alt.Tooltip("tip", title="value")]
    layers: list[alt.Chart] = [
        alt.Chart(part)
        .mark_rect(style=style)
        .encode(
            x=across,
            x2="profit",
            y=row_position("mark_top", count),
            y2="mark_bottom",
            tooltip=tooltip,
        )
        for style, part in (
            ("rise", rows.filter(pl.col("profit") >= 0)),
            ("fall", rows.filter(pl.col("profit") < 0)),
        )
        if part.height
    ]
    return stack_rows([*layers, *row_words(alt.Chart(rows), "words", "figure", count)], count, title)
