"""The chart of asks: the chance of a sale within 30, 60 and 90 days against what is asked."""

from collections.abc import Sequence

import altair as alt
import polars as pl

from pipeline.answers.consignment.answer import HORIZONS, VenueOffer, best_ask
from pipeline.answers.consignment.tables import curve_table
from pipeline.phrases.phrases import ENGLISH, Phrases
from reports.charts.price_axis import price_axis
from reports.charts.rows import figure_room

HEIGHT = 260


def ask_frame(offer: VenueOffer, currency: str, language: Phrases = ENGLISH) -> pl.DataFrame:
    """Return one row an ask and horizon: ask (base currency), days, chance, ask_text, chance_text, within."""
    asks = curve_table(offer, currency, language)
    return pl.concat(
        asks.rows.select(
            "ask",
            pl.lit(days).alias("days"),
            pl.col(key).alias("chance"),
            *asks.text_columns(ask_text="ask", chance_text=key),
            pl.lit(language.say("within_days", days=days)).alias("within"),
        )
        for days, key in ((days, f"in_{days}_days") for days in HORIZONS)
    )


def asks_chart(
    offer: VenueOffer,
    currency: str,
    *,
    patience: int,
    beside: Sequence[VenueOffer] = (),
    language: Phrases = ENGLISH,
) -> alt.LayerChart:
    """Return the chance of a sale within each of HORIZONS against the ask, one line a horizon.

    The suggested ask is marked, with its chance of a sale within `patience` days in words. The axis is that of the
    venues `beside` it as well, so that their charts can be compared.
    """
    say = language.say
    curve = ask_frame(offer, currency, language)
    asks = [point.ask for one in (offer, *beside) for point in one.curve]
    axis = price_axis(asks, room=figure_room(curve["within"]))
    x = axis.encode("ask", say("asked_in", currency=currency), language)
    y = alt.Y(
        "chance",
        type="quantitative",
        title=say("chance_of_sale"),
        scale=alt.Scale(domain=[0, 1], nice=False),
        axis=alt.Axis(
            labelExpr=f"format(100 * datum.value, '.0f') + '{_percent_sign(language)}'",
            values=[0, 0.25, 0.5, 0.75, 1],
        ),
    )
    tooltip = [
        alt.Tooltip("ask_text", title=say("ask").lower() if language.is_english else say("ask")),
        alt.Tooltip("within", title=say("sold_within")),
        alt.Tooltip("chance_text", title=say("chance")),
    ]
    layers: list[alt.Chart] = []
    for days in HORIZONS:
        rows = alt.Chart(curve.filter(pl.col("days") == days))
        layers.append(rows.mark_line(style=f"curve-{days}").encode(x=x, y=y))
        layers.append(
            rows.mark_point(style=f"curve-{days}-point", size=45, filled=True).encode(
                x=x, y=y, tooltip=tooltip
            )
        )
    best = best_ask(offer.curve)
    words = say("suggested_ask", share=language.level(best.chance_in_patience), days=patience)
    marked = alt.Chart(pl.DataFrame({"ask": [best.ask], "suggested": [words]}))
    side = "edge-low" if best.ask > sum(asks) / len(asks) else "edge-high"
    top = alt.YValue(-12)  # type: ignore[no-untyped-call]  # altair leaves it untyped
    layers += [
        marked.mark_rule(style="median").encode(x=x),
        marked.mark_text(style=side).encode(x=x, y=top, text=alt.Text("suggested", type="nominal")),
    ]
    last = curve.filter(pl.col("ask") == curve["ask"].max())
    for style in ("curve-words-halo", "curve-words"):
        ends = alt.Chart(last).mark_text(style=style)
        layers.append(ends.encode(x=x, y=y, text=alt.Text("within", type="nominal")))
    return alt.LayerChart(layer=layers, width="container", height=HEIGHT, title=say("ask_and_chance"))


def _percent_sign(language: Phrases) -> str:
    """Return what stands after the figure of a percentage."""
    return language.level(0).removeprefix("0")
