"""The chart of upcoming lots: how far each can still be bid up, all costs in."""

import altair as alt
import polars as pl

from reports.charts.price_axis import price_axis
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows


def room_chart(lots: pl.DataFrame, currency: str) -> alt.LayerChart:
    """Return one row a lot: the cost if won now (hollow) → the cost at the maximum bid (filled).

    `lots` has words, figure, tip (String), landed and walk_away (Float64, above zero, `currency`).
    """
    count = lots.height
    axis = price_axis([*lots["landed"], *lots["walk_away"]], room=figure_room(lots["figure"]))
    title = f"All costs in ({currency})"
    rows = alt.Chart(place_rows(lots))
    at = row_position("mark_at", count)
    tooltip = [alt.Tooltip("words", title="title"), alt.Tooltip("tip", title="cost")]
    layers = [
        rows.mark_rule(style="link").encode(
            x=axis.encode("landed", title), x2="walk_away", y=at, tooltip=tooltip
        ),
        rows.mark_point(style="paid", size=60, filled=True).encode(
            x=axis.encode("landed", title), y=at, tooltip=tooltip
        ),
        rows.mark_point(style="sale", size=90, filled=True).encode(
            x=axis.encode("walk_away", title), y=at, tooltip=tooltip
        ),
        *row_words(rows, "words", "figure", count),
    ]
    return stack_rows(layers, count, "Room to bid on the best lots")
