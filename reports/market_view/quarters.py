"""The chart of quarters: one row a venue, one bar a quarter."""

import altair as alt
import polars as pl

from reports.charts.rows import SCALE_ROOM, row_heads, row_position, row_scale
from reports.charts.time_axis import year_encoding

HEIGHT = 92
_TOP, _BOTTOM = 0.36, 0.94
_GAP = 0.03
_QUARTER = 0.25


def quarter_chart(
    quarters: pl.DataFrame, title: str, *, most: float, most_text: str, outline: bool = False
) -> alt.LayerChart:
    """Return one row a venue, a bar a quarter of its value, and its whole behind it as an outline.

    `quarters` has row (which venue, from zero), words and figure (of the row), at (year number), value,
    whole (both at most `most`, the full height of a row, which `most_text` names), quarter and tip (texts).
    """
    count = int(quarters["row"].n_unique())

    def top_of(name: str) -> pl.Expr:
        return (pl.col("row") + _BOTTOM - (_BOTTOM - _TOP) * pl.col(name) / most).round(4)

    laid = quarters.with_columns(
        top_of("value").alias("value_top"),
        top_of("whole").alias("whole_top"),
        (pl.col("row") + _BOTTOM).alias("foot"),
        (pl.col("row") + 0.14).alias("words_at"),
        (pl.col("at") + _GAP).round(4).alias("from"),
        (pl.col("at") + _QUARTER - _GAP).round(4).alias("to"),
    )
    first, last = float(quarters["at"].to_numpy().min()), float(quarters["at"].to_numpy().max())
    x = year_encoding("from", first, last + _QUARTER, room=SCALE_ROOM)
    tooltip = [
        alt.Tooltip("quarter", title="title"),
        alt.Tooltip("words", title="venue"),
        alt.Tooltip("tip", title="what happened"),
    ]
    bars = alt.Chart(laid)
    heads = alt.Chart(
        laid.unique("row", keep="first", maintain_order=True).select("row", "words", "figure", "words_at")
    )
    scale = [
        {"scale_at": row + at, "scale_text": text}
        for row in range(count)
        for at, text in ((_TOP, most_text), (_BOTTOM, "0"))
    ]
    layers = [
        *row_scale(pl.DataFrame(scale), count),
        bars.mark_rect(style="rise").encode(
            x=x, x2="to", y=row_position("value_top", count), y2="foot", tooltip=tooltip
        ),
        *row_heads(heads, "words", "figure", count, room=170),
    ]
    if outline:
        whole = bars.mark_rect(style="whole").encode(
            x=x, x2="to", y=row_position("whole_top", count), y2="foot", tooltip=tooltip
        )
        layers.insert(2, whole)
    return alt.LayerChart(layer=layers, width="container", height=count * HEIGHT, title=title)
