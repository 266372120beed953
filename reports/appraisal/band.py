"""The band chart: 50, 80 and 95 % as three bars on one price axis, the comparables beneath them."""

import altair as alt
import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.frames import band_frame, comparable_frame
from reports.charts.price_axis import edge_marks, price_axis
from reports.charts.rows import figure_room, median_rule, place_rows, row_position, row_words, stack_rows


def band_chart(appraisal: Appraisal) -> alt.LayerChart:
    """Return the bands of an appraisal, its median, and its comparables' adjusted prices as marks."""
    bands = band_frame(appraisal)
    sales = comparable_frame(appraisal)
    count = bands.height + 2
    estimate = formats.estimate(appraisal.median, appraisal.currency)
    axis = price_axis(
        [*bands["low"], *bands["high"], appraisal.median],
        [*sales["adjusted"]],
        room=figure_room([*bands["range"], estimate]),
    )
    title = f"Price paid, all-in ({appraisal.currency})"
    middle = place_rows(
        pl.DataFrame(
            {
                "row": ["Median"],
                "range": [estimate],
                "median": [appraisal.median],
            }
        )
    )
    weak = "-weak" if appraisal.weak else ""
    claim = " sell within" if appraisal.in_support else ", as a guess"
    laid = place_rows(
        bands.with_columns(
            row=pl.col("words") + f"{claim} (" + pl.col("name") + ")",
            style="band-" + (pl.col("level") * 100).round().cast(pl.Int64).cast(pl.String) + weak,
        ),
        first=1,
    )
    strip = place_rows(_strip(sales), first=1 + bands.height)
    bars = [
        alt.Chart(laid.filter(pl.col("level") == level))
        .mark_rect(style=style)
        .encode(
            x=axis.encode("low", title),
            x2="high",
            y=row_position("mark_top", count),
            y2="mark_bottom",
            tooltip=[alt.Tooltip("name", title="band"), alt.Tooltip("range", title="from – to")],
        )
        for level, style in laid.select("level", "style").iter_rows()
    ]
    point = (
        alt.Chart(middle)
        .mark_point(style=f"total{weak}", size=110, filled=True, shape="diamond")
        .encode(
            x=axis.encode("median", title),
            y=row_position("mark_at", count),
            tooltip=[alt.Tooltip("range", title="median")],
        )
    )
    found = sales.with_columns(mark_at=pl.lit(strip["mark_at"][0]))
    dots = (
        alt.Chart(found.filter(axis.holds("adjusted")))
        .mark_point(style="sale", size=90, filled=True)
        .encode(
            x=axis.encode("adjusted", title),
            y=row_position("mark_at", count),
            tooltip=[
                "title",
                alt.Tooltip("sold"),
                alt.Tooltip("venue"),
                alt.Tooltip("paid_text", title="paid"),
                alt.Tooltip("adjusted_text", title="adjusted"),
            ],
        )
    )
    words = [
        layer for rows in (middle, laid, strip) for layer in row_words(alt.Chart(rows), "row", "range", count)
    ]
    far = edge_marks(found, "adjusted", "adjusted_text", row_position("mark_at", count), axis, title)
    layers = [*bars, median_rule(appraisal.median, axis, title), point, dots, *far, *words]
    return stack_rows(layers, count, "What pairs like it sell for")


def _strip(sales: pl.DataFrame) -> pl.DataFrame:
    """Return the one row in which the comparables stand, with what it says of them."""
    if sales.is_empty():
        return pl.DataFrame({"row": ["No comparable sale"], "range": [""]})
    found = formats.counted(sales.height, "comparable sale")
    return pl.DataFrame({"row": [f"{found}, adjusted to this pair"], "range": [""]})
