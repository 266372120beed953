"""The chart of moves: what an attribute was worth in the earlier half of the records, and in the later."""

import altair as alt
import polars as pl

from reports.charts.percent_axis import percent_axis
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows


def moves_chart(moves: pl.DataFrame, title: str) -> alt.LayerChart:
    """Return one row a value: earlier (hollow) → later (filled), in per cent.

    `moves` has words and figure (of the row), earlier, later (per cent).
    """
    count = moves.height
    x = percent_axis(
        [*moves["earlier"], *moves["later"]], "Per cent of the price", room=figure_room(moves["figure"])
    ).across
    rows = alt.Chart(place_rows(moves).with_columns(zero=pl.lit(0.0)))
    at = row_position("mark_at", count)
    tooltip = [alt.Tooltip("words", title="title"), alt.Tooltip("figure", title="moved")]
    layers = [
        rows.mark_rule(style="zero").encode(x=x("zero"), y=row_position("mark_top", count), y2="mark_bottom"),
        rows.mark_rule(style="link").encode(x=x("earlier"), x2="later", y=at, tooltip=tooltip),
        rows.mark_point(style="paid", size=60, filled=True).encode(x=x("earlier"), y=at, tooltip=tooltip),
        rows.mark_point(style="sale", size=90, filled=True).encode(x=x("later"), y=at, tooltip=tooltip),
        *row_words(rows, "words", "figure", count),
    ]
    return stack_rows(layers, count, title)
