"""The interval chart: one row a thing, its estimate in per cent as a dot, its band or error as a bar."""

import altair as alt
import polars as pl

from reports.charts.rows import lay_rows, row_position, row_words, stack_rows

_PAD = 0.08
_LEAST = 1.0


def interval_chart(
    intervals: pl.DataFrame, title: str, axis_title: str, *, room: int = 150
) -> alt.LayerChart:
    """Return one row an estimate: a dot on its bar, about a line at nought.

    `intervals` has words and figure (what the row says at its left and right), middle, low, high (per
    cent), and said (what the bar is, for the tooltip). `room` (px) is what the figure needs.
    """
    count = intervals.height
    x = _axis(intervals, axis_title)
    laid = lay_rows(intervals)
    tooltip = [
        alt.Tooltip("words", title="title"),
        alt.Tooltip("figure", title="estimate"),
        alt.Tooltip("said"),
    ]
    rows = alt.Chart(laid)
    nought = alt.Chart(pl.DataFrame({"nought": [0.0]})).mark_rule(style="median").encode(x=x("nought"))
    bars = rows.mark_rect(style="band-80").encode(
        x=x("low"),
        x2="high",
        y=row_position("mark_top", count),
        y2="mark_bottom",
        tooltip=tooltip,
    )
    dots = rows.mark_point(style="total", size=80, filled=True).encode(
        x=x("middle"), y=row_position("mark_at", count), tooltip=tooltip
    )
    layers = [bars, nought, dots, *row_words(rows, "words", "figure", count, room=room)]
    return stack_rows(layers, count, title)


class _axis:
    """The horizontal encoding of per cents, the same for every layer."""

    def __init__(self, intervals: pl.DataFrame, title: str) -> None:
        low = min(0.0, *intervals["low"], *intervals["middle"])
        high = max(0.0, *intervals["high"], *intervals["middle"])
        pad = max((high - low) * _PAD, _LEAST)
        self.domain = [float(f"{low - pad:.6g}"), float(f"{high + pad:.6g}")]
        self.title = title

    def __call__(self, field: str) -> alt.X:
        return alt.X(
            field,
            type="quantitative",
            title=self.title,
            scale=alt.Scale(domain=self.domain, nice=False),
            axis=alt.Axis(format="+~g", tickCount=6, labelOverlap=True),
        )
