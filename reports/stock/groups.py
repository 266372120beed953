"""The chart of the stock: each group together, its cost beside the band of what it should bring."""

import altair as alt
import polars as pl

from reports.charts.price_axis import price_axis
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows


def groups_chart(groups: pl.DataFrame, title: str, currency: str, *, heading: str = "") -> alt.LayerChart:
    """Return one row a group: its 80 % band, its value (dot) and its cost or what it brought (hollow, where known).

    `heading` is that of the axis; left out, it is of groups. `groups` has words, figure, tip (String), low, median,
    high, cost (Float64, above zero or null, `currency`).
    """
    count = groups.height
    prices = [*groups["low"], *groups["high"], *groups["cost"].drop_nulls()]
    axis = price_axis(prices, room=figure_room(groups["figure"]))
    heading = heading or f"Each group together, all-in ({currency})"
    rows = alt.Chart(place_rows(groups))
    at = row_position("mark_at", count)
    tooltip = [alt.Tooltip("words", title="title"), alt.Tooltip("tip", title="value")]
    layers = [
        rows.mark_rect(style="band-80").encode(
            x=axis.encode("low", heading),
            x2="high",
            y=row_position("mark_top", count),
            y2="mark_bottom",
            tooltip=tooltip,
        ),
        rows.mark_point(style="total", size=80, filled=True).encode(
            x=axis.encode("median", heading), y=at, tooltip=tooltip
        ),
        rows.transform_filter("isValid(datum.cost)")
        .mark_point(style="paid", size=60, filled=True)
        .encode(x=axis.encode("cost", heading), y=at, tooltip=tooltip),
        *row_words(rows, "words", "figure", count),
    ]
    return stack_rows(layers, count, title)
