"""The eras of a pair in doubt: one row an era, its median a dot on its band, on one price axis."""

import altair as alt
import polars as pl

from reports.charts.price_axis import price_axis
from reports.charts.rows import place_rows, row_position, row_words, stack_rows


def era_odds_chart(rows: pl.DataFrame, currency: str) -> alt.LayerChart:
    """Return the chart of rows with words, figure, range (String), middle, low, high (Float64, prices)."""
    count = rows.height
    axis = price_axis([*rows["low"], *rows["high"]])
    title = f"Price paid, all-in ({currency})"
    laid = place_rows(rows)
    tooltip = [
        alt.Tooltip("words", title="title"),
        alt.Tooltip("figure", title="median"),
        alt.Tooltip("range", title="from – to"),
    ]
    bars = (
        alt.Chart(laid)
        .mark_rect(style="band-80")
        .encode(
            x=axis.encode("low", title),
            x2="high",
            y=row_position("mark_top", count),
            y2="mark_bottom",
            tooltip=tooltip,
        )
    )
    dots = (
        alt.Chart(laid)
        .mark_point(style="total", size=90, filled=True)
        .encode(x=axis.encode("middle", title), y=row_position("mark_at", count), tooltip=tooltip)
    )
    words = row_words(alt.Chart(laid), "words", "figure", count)
    return stack_rows([bars, dots, *words], count, "What the pair is worth in each era")
