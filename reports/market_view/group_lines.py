"""The chart of groups: one row an era or family, its own index on that of the market."""

import math

import altair as alt
import polars as pl

from reports.charts.rows import SCALE_ROOM, row_heads, row_position, row_scale
from reports.charts.time_axis import year_encoding

HEIGHT = 110
_TOP, _BOTTOM = 0.32, 0.94
_BASE = 100.0


def group_lines(points: pl.DataFrame, title: str) -> alt.LayerChart:
    """Return one row a group: its index as a line on its band, the others' mean as a dashed line.

    `points` has row (which one, from zero), words and figure (of the row), at (year number), index, low,
    high, market (the index of all), and tip (text).
    """
    count = int(points["row"].n_unique())
    ends = points.select("low", "high", "market").unpivot().get_column("value").to_list()
    least, most = min(*ends, _BASE), max(*ends, _BASE)

    def placed(name: str) -> pl.Expr:
        share = (pl.col(name) / least).log() / math.log(most / least)
        at: pl.Expr = (pl.col("row") + _BOTTOM - (_BOTTOM - _TOP) * share).round(4)
        return at

    laid = points.with_columns(
        placed("index").alias("index_at"),
        placed("low").alias("low_at"),
        placed("high").alias("high_at"),
        placed("market").alias("market_at"),
        (pl.col("row") + 0.14).alias("words_at"),
    )
    first, last = float(points["at"].to_numpy().min()), float(points["at"].to_numpy().max())
    x = year_encoding("at", first, last, room=SCALE_ROOM)
    scale = pl.DataFrame(
        {"row": range(count), "base": [_BASE] * count, "scale_text": [f"{_BASE:.0f}"] * count}
    )
    lines = alt.Chart(laid)
    first_of = laid.unique("row", keep="first", maintain_order=True)
    heads = alt.Chart(first_of.select("row", "words", "figure", "words_at"))
    layers = [
        *row_scale(scale.with_columns(placed("base").alias("scale_at")), count),
        lines.mark_area(style="index-band").encode(
            x=x, y=row_position("low_at", count), y2="high_at", detail="row:N"
        ),
        lines.mark_line(style="market-line").encode(x=x, y=row_position("market_at", count), detail="row:N"),
        lines.mark_line(style="index").encode(x=x, y=row_position("index_at", count), detail="row:N"),
        lines.mark_point(style="touch", size=60, filled=True).encode(
            x=x,
            y=row_position("index_at", count),
            tooltip=[alt.Tooltip("words", title="title"), alt.Tooltip("tip", title="index")],
        ),
        *row_heads(heads, "words", "figure", count, room=190),
    ]
    return alt.LayerChart(layer=layers, width="container", height=count * HEIGHT, title=title)
