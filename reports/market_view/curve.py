"""The curve chart: what an ordered attribute (size, grade) does to the price."""

import altair as alt
import polars as pl

from reports.charts.percent_axis import percent_axis

HEIGHT = 240


def curve_chart(points: pl.DataFrame, title: str, axis_title: str) -> alt.LayerChart:
    """Return the curve through its values, each with a line of one standard error either way.

    `points` has at (the value as a number), middle, low, high (per cent), words, figure and said (texts).
    """
    ticks = [float(at) for at in points["at"]]
    pad = (ticks[-1] - ticks[0]) * 0.02 if len(ticks) > 1 else 1.0
    x = alt.X(
        "at",
        type="quantitative",
        title=axis_title,
        scale=alt.Scale(domain=[ticks[0] - pad, ticks[-1] + pad], nice=False),
        axis=alt.Axis(values=ticks, format="~g", labelOverlap=True, labelSeparation=8),
    )
    y = percent_axis([*points["low"], *points["high"]], "Per cent of the price").upwards

    tooltip = [alt.Tooltip("words", title="title"), alt.Tooltip("figure", title="worth"), alt.Tooltip("said")]
    line = alt.Chart(points)
    layers = [
        alt.Chart(pl.DataFrame({"zero": [0.0]})).mark_rule(style="median").encode(y=y("zero")),
        line.mark_line(style="index").encode(x=x, y=y("middle")),
        line.mark_rule(style="error").encode(x=x, y=y("low"), y2="high", tooltip=tooltip),
        line.mark_point(style="sale", size=60, filled=True).encode(x=x, y=y("middle"), tooltip=tooltip),
    ]
    return alt.LayerChart(layer=layers, width="container", height=HEIGHT, title=title)
