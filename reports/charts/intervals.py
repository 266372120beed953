"""The interval chart: one row a thing, its estimate in per cent as a dot, its band or error in the form that it has."""

from typing import Literal

import altair as alt
import polars as pl

from reports.charts.percent_axis import percent_axis
from reports.charts.price_axis import EDGE
from reports.charts.rows import figure_room, place_rows, row_position, row_words, stack_rows

Form = Literal["band-80", "error", "band-95"]
"""What an interval is: an 80 % band (a filled bar), one standard error either way (a line), 95 % (an outline)."""

FORMS: dict[Form, str] = {
    "band-80": "Filled bar: the 80 % band.",
    "error": "Line: one standard error either way.",
    "band-95": "Outlined bar: the 95 % interval.",
}
"""How a chart's caption names each form."""

TYPICAL_WIDTHS = 3
"""How many times the typical width an interval may reach beyond the estimates before it is cut at the edge."""

TALL = 8
"""The most rows of a chart whose axis stands at its foot; that of a taller one is on top, in the first screen."""


def interval_chart(intervals: pl.DataFrame, title: str, axis_title: str, *, form: Form) -> alt.LayerChart:
    """Return one row an estimate: a dot on its interval, drawn in the form of what it is, about a zero line.

    `intervals` has words and figure (what the row says above its mark and at the right of it), middle, low, high (per
    cent), and said (what the interval is, for the tooltip). An interval that would squeeze the others is cut, with an
    arrow and its end written at the edge. A row with `guess` (Boolean, may be left out) true is dashed and
    hollow.
    """
    count = intervals.height
    least, most = _ends(intervals)
    edge = (most - least) * EDGE
    cut = intervals.select((pl.col("low") < least).any(), (pl.col("high") > most).any()).row(0)
    x = percent_axis(
        [least - edge * cut[0], most + edge * cut[1]],
        axis_title,
        room=figure_room(intervals["figure"]),
        on_top=count > TALL,
    ).across
    laid = place_rows(intervals).with_columns(
        far_low=pl.when(pl.col("low") < least).then(pl.col("low")),
        far_high=pl.when(pl.col("high") > most).then(pl.col("high")),
    )
    within = laid.with_columns(pl.col("low", "high").clip(least, most))
    rows = alt.Chart(within)
    top, at = row_position("mark_top", count), row_position("mark_at", count)
    tooltip = [
        alt.Tooltip("words", title="title"),
        alt.Tooltip("figure", title="estimate"),
        alt.Tooltip("said", title="rests on"),
    ]
    drawn = (
        [
            alt.Chart(part).mark_rule(style=style).encode(x=x("low"), x2="high", y=at, tooltip=tooltip)
            for style, part in _by_style(within, form)
        ]
        if form == "error"
        else [
            alt.Chart(part)
            .mark_rect(style=style)
            .encode(x=x("low"), x2="high", y=top, y2="mark_bottom", tooltip=tooltip)
            for style, part in _by_style(within, form)
        ]
    )
    layers = [
        *drawn,
        alt.Chart(pl.DataFrame({"zero": [0.0]})).mark_rule(style="zero").encode(x=x("zero")),
        *(
            alt.Chart(part)
            .mark_point(style=style, size=80, filled=True)
            .encode(x=x("middle"), y=at, tooltip=tooltip)
            for style, part in _by_style(within, "total")
        ),
    ]
    for style, far, end, words in (
        ("edge-low", "far_low", least, "format(datum.far_low, '+.0f') + ' ←'"),
        ("edge-high", "far_high", most, "'→ ' + format(datum.far_high, '+.0f')"),
    ):
        beyond = laid.filter(pl.col(far).is_not_null()).with_columns(edge=pl.lit(end))
        if beyond.height:
            text = alt.Chart(beyond).transform_calculate(beyond=words).mark_text(style=style)
            layers.append(text.encode(x=x("edge"), y=at, text=alt.Text("beyond", type="nominal")))
    layers += row_words(rows, "words", "figure", count)
    return stack_rows(layers, count, title)


def _by_style(intervals: pl.DataFrame, style: str) -> list[tuple[str, pl.DataFrame]]:
    """Return the rows of each style: those that are no guess in the given one, the others in its weak form."""
    if "guess" not in intervals.columns:
        return [(style, intervals)]
    parts = ((style, ~pl.col("guess")), (f"{style}-weak", pl.col("guess")))
    return [(name, part.drop("guess")) for name, wanted in parts if (part := intervals.filter(wanted)).height]


def _ends(intervals: pl.DataFrame) -> tuple[float, float]:
    """Return between which per cents intervals are drawn: all estimates, zero, and intervals of a usual width."""
    middles = [0.0, *intervals["middle"]]
    typical = float((intervals["high"] - intervals["low"]).median() or 0.0) * TYPICAL_WIDTHS  # type: ignore[arg-type]
    least = max(min([0.0, *intervals["low"]]), min(middles) - typical)
    most = min(max([0.0, *intervals["high"]]), max(middles) + typical)
    return least, most
