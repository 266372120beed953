"""The index chart: the hedonic index with its band, and resales of the same pairs beside it."""

from typing import Literal

import altair as alt
import polars as pl

from reports.charts.price_axis import LOG_FROM
from reports.charts.rows import figure_room
from reports.charts.time_axis import year_encoding

HEIGHT = 300


def index_chart(points: pl.DataFrame, resales: pl.DataFrame, title: str, base: str) -> alt.LayerChart:
    """Return the index as a line on its 80 % band, resales as rings with bars.

    Both frames have at (year number), index, low, high, and period, figure, band, sales (texts). `base`
    names the month in which the index is 100. `resales` may be empty.
    """
    first, last = float(points["at"][0]), float(points["at"][-1])
    if resales.height:
        first, last = min(first, float(resales["at"][0])), max(last, float(resales["at"][-1]))
    low = min(*points["low"], *resales["low"], 100.0)
    high = max(*points["high"], *resales["high"], 100.0)
    y = _height(low, high, f"Index ({base} = 100)")
    end = points.tail(1)
    x = year_encoding("at", first, last, room=figure_room([*end["figure"], *end["band"]]))
    tooltip = [
        alt.Tooltip("period", title="title"),
        alt.Tooltip("figure", title="index"),
        alt.Tooltip("band", title="80 % band"),
        alt.Tooltip("sales", title="sales"),
    ]
    line = alt.Chart(points)
    ring = alt.Chart(resales)
    layers = [
        line.mark_area(style="index-band").encode(x=x, y=y("low"), y2="high"),
        alt.Chart(pl.DataFrame({"base": [100.0]})).mark_rule(style="median").encode(y=y("base")),
        line.mark_line(style="index").encode(x=x, y=y("index")),
        line.mark_point(style="touch", size=80, filled=True).encode(x=x, y=y("index"), tooltip=tooltip),
        alt.Chart(end).mark_text(style="end-figure").encode(x=x, y=y("index"), text="figure"),
        alt.Chart(end).mark_text(style="end-band").encode(x=x, y=y("index"), text="band"),
    ]
    if resales.height:
        layers += [
            ring.mark_rule(style="index-band-bar").encode(x=x, y=y("low"), y2="high", tooltip=tooltip),
            ring.mark_point(style="paid", size=70, filled=True).encode(x=x, y=y("index"), tooltip=tooltip),
        ]
    return alt.LayerChart(layer=layers, width="container", height=HEIGHT, title=title)


class _height:
    """The vertical encoding of an index, the same for every layer."""

    def __init__(self, low: float, high: float, title: str) -> None:
        self.kind: Literal["log", "linear"] = "log" if high >= low * LOG_FROM else "linear"
        pad = (high / low) ** 0.05
        self.domain = [float(f"{low / pad:.6g}"), float(f"{high * pad:.6g}")]
        self.title = f"{title}, log scale" if self.kind == "log" else title

    def __call__(self, field: str) -> alt.Y:
        return alt.Y(
            field,
            type="quantitative",
            title=self.title,
            scale=alt.Scale(type=self.kind, domain=self.domain, nice=False),
            axis=alt.Axis(
                format=".0f",
                tickCount=6,
                titleAngle=0,
                titleAlign="left",
                titleAnchor="end",
                titleY=-10,
                titleX=0,
            ),
        )
