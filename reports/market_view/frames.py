"""The frames behind the market's charts and their tables."""

from collections.abc import Sequence

import polars as pl

from pipeline import formats
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.attribute_values import AttributeValue
from pipeline.answers.market_view.groups import Split
from pipeline.answers.market_view.index import Change, IndexPoint
from pipeline.answers.market_view.resales import Resales
from pipeline.answers.market_view.tables import NAME, change_words
from pipeline.schema import UNKNOWN
from pipeline.untrusted import show_words
from reports.charts.time_axis import year_number

YEAR_QUARTERS = 4
COMPLETENESS = ("box", "tags", "overlay", "part")
"""The attributes whose values share one chart."""

_INTERVAL = {
    "words": pl.String,
    "figure": pl.String,
    "said": pl.String,
    "middle": pl.Float64,
    "low": pl.Float64,
    "high": pl.Float64,
}


def index_frame(points: Sequence[IndexPoint], months: int = 1) -> pl.DataFrame:
    """Return one row a period of an index: at (the middle of the period, in years), index, low, high, and texts.

    Columns: at, index, low, high (Float64), period, figure, band, sales (String).
    """
    return pl.DataFrame(
        {
            "at": [round(year_number(point.period) + (months // 2) / 12, 4) for point in points],
            "index": [_plain(point.index) for point in points],
            "low": [_plain(point.low) for point in points],
            "high": [_plain(point.high) for point in points],
            "period": [_period(point, months) for point in points],
            "figure": [f"{point.index:.0f}" for point in points],
            "band": [f"{point.low:.0f} – {point.high:.0f}" for point in points],
            "sales": [formats.count(point.sales) for point in points],
        },
        schema={
            "at": pl.Float64,
            "index": pl.Float64,
            "low": pl.Float64,
            "high": pl.Float64,
            "period": pl.String,
            "figure": pl.String,
            "band": pl.String,
            "sales": pl.String,
        },
    )


def change_frame(changes: Sequence[tuple[str, Change]]) -> pl.DataFrame:
    """Return one row a named change, as `interval_chart` reads it, and its span as text."""
    rows = [
        {
            "words": show_words(name, NAME),
            "figure": formats.percent_change(change.factor),
            "said": f"80 % band {change_words(change)}",
            "middle": _points_of(change.factor),
            "low": _points_of(change.low),
            "high": _points_of(change.high),
            "span": f"{formats.month(change.since)} to {formats.month(change.until)}",
        }
        for name, change in changes
    ]
    return pl.DataFrame(rows, schema={**_INTERVAL, "span": pl.String})


def agreement_frame(resales: Resales) -> pl.DataFrame:
    """Return one row a year of what resales fetched beside the index, as `interval_chart` reads it."""
    rows = [
        {
            "words": f"{one.year}: {formats.counted(one.pairs, 'resale')}",
            "figure": formats.percent_change(one.factor),
            "said": f"80 % band {formats.percent_change(one.low)} to {formats.percent_change(one.high)}",
            "middle": _points_of(one.factor),
            "low": _points_of(one.low),
            "high": _points_of(one.high),
            "band": f"{formats.percent_change(one.low)} to {formats.percent_change(one.high)}",
        }
        for one in resales.by_year
    ]
    return pl.DataFrame(rows, schema={**_INTERVAL, "band": pl.String})


def group_frame(split: Split) -> pl.DataFrame:
    """Return one row a group and quarter, as `group_lines` reads it; `market` is the mean of the groups."""
    rows = [
        {
            "row": number,
            "words": f"{show_words(group.name, NAME)}, {formats.counted(group.sales, 'sale')}",
            "figure": f"{formats.percent_change(group.difference.factor)} against the market",
            "at": round(year_number(point.period) + 1 / 12, 4),
            "quarter": formats.quarter(point.period),
            "index": _plain(point.index),
            "low": _plain(point.low),
            "high": _plain(point.high),
            "market": _plain(point.index / own),
            "tip": f"{formats.quarter(point.period)}: {point.index:.0f} ({point.low:.0f} – {point.high:.0f})",
        }
        for number, group in enumerate(split.groups)
        for point, own in zip(group.points, group.ratio_by_quarter, strict=True)
    ]
    return pl.DataFrame(rows)


def venue_frame(view: MarketView, measure: str) -> pl.DataFrame:
    """Return one row a venue and quarter of a measure: "sold", "sell-through" or "days".

    As `quarter_chart` reads it, with the row's own figure over its last four quarters.
    """
    kept = [
        row
        for row in view.activity
        if measure == "sold" or (row.sell_through if measure == "sell-through" else row.days) is not None
    ]
    recent = sorted({row.quarter for row in view.activity})[-YEAR_QUARTERS:]
    venues = sorted({row.venue for row in kept})
    rows = []
    for number, venue in enumerate(venues):
        own = [row for row in kept if row.venue == venue]
        late = [row for row in own if row.quarter in recent]
        sold, unsold = sum(row.sold for row in late), sum(row.unsold for row in late)
        days = sorted(row.days for row in late if row.days is not None)
        figure = {
            "sold": f"{formats.count(sold)} sold in a year",
            "sell-through": f"{formats.level(sold / (sold + unsold))} in a year" if sold + unsold else "–",
            "days": f"{days[len(days) // 2]:.0f} days lately" if days else "–",
        }[measure]
        for row in own:
            value = {"sold": row.sold, "sell-through": row.sell_through, "days": row.days}[measure] or 0.0
            rows.append(
                {
                    "row": number,
                    "words": show_words(venue, NAME),
                    "figure": figure,
                    "at": year_number(row.quarter),
                    "quarter": formats.quarter(row.quarter),
                    "value": float(value),
                    "whole": float(row.sold + row.unsold) if measure == "sold" else float(value),
                    "tip": _described(measure, row.sold, row.unsold, row.sell_through, row.days),
                }
            )
    return pl.DataFrame(
        rows,
        schema={
            "row": pl.Int64,
            "words": pl.String,
            "figure": pl.String,
            "at": pl.Float64,
            "quarter": pl.String,
            "value": pl.Float64,
            "whole": pl.Float64,
            "tip": pl.String,
        },
    )


def value_frame(values: Sequence[AttributeValue]) -> pl.DataFrame:
    """Return one row a value, as `interval_chart` and `curve_chart` read it, and its texts.

    Columns besides those: attribute, value, against, share (String), known (Boolean: the value is known), at
    (Float64: the value as a number, where it is one).
    """
    mixed = len({one.attribute for one in values}) > 1
    rows = [
        {
            "words": _value_words(one, mixed=mixed),
            "figure": f"{formats.share(one.effect.share)} ± {100 * one.effect.error:.1f}",
            "said": f"{formats.counted(one.effect.sales, 'sale')}; the bar is one standard error either way",
            "middle": round(100 * one.effect.share, 4),
            "low": round(100 * (one.effect.share - one.effect.error), 4),
            "high": round(100 * (one.effect.share + one.effect.error), 4),
            "attribute": one.attribute,
            "value": show_words(one.value, NAME),
            "against": show_words(one.against, NAME) or "without it",
            "known": one.value != UNKNOWN,
            "share": formats.share(one.effect.share),
        }
        for one in values
    ]
    texts = ("attribute", "value", "against", "share")
    return pl.DataFrame(
        rows, schema={**_INTERVAL, **dict.fromkeys(texts, pl.String), "known": pl.Boolean}
    ).with_columns(pl.col("value").str.extract(r"^(\d+(?:\.\d+)?)").cast(pl.Float64).alias("at"))


def curve_frame(values: Sequence[AttributeValue]) -> pl.DataFrame:
    """Return the known values of an ordered attribute in their order, the one they are compared with at zero."""
    known = value_frame(values).filter(pl.col("known") & pl.col("at").is_not_null())
    against = values[0].against
    zero = {
        "words": show_words(against, NAME),
        "figure": "the one compared with",
        "said": "every other value is compared with this one",
        "middle": 0.0,
        "low": 0.0,
        "high": 0.0,
    }
    start = pl.DataFrame([zero], schema=_INTERVAL).with_columns(
        pl.lit(against).str.extract(r"^(\d+(?:\.\d+)?)").cast(pl.Float64).alias("at")
    )
    return pl.concat([known.select(start.columns), start]).sort("at")


def move_frame(values: Sequence[AttributeValue]) -> pl.DataFrame:
    """Return one row a value that moved, as `moves_chart` reads it."""
    rows = [
        {
            "words": f"{one.attribute}: {_value_words(one, mixed=False)}",
            "figure": f"{formats.share(one.earlier.share)} → {formats.share(one.later.share)}",
            "earlier": round(100 * one.earlier.share, 4),
            "later": round(100 * one.later.share, 4),
        }
        for one in values
        if one.moved and one.earlier and one.later
    ]
    return pl.DataFrame(
        rows,
        schema={"words": pl.String, "figure": pl.String, "earlier": pl.Float64, "later": pl.Float64},
    )


def _value_words(one: AttributeValue, *, mixed: bool) -> str:
    value = show_words(one.value, NAME)
    named = f"{one.attribute}: {value}" if mixed else value
    return f"{named}, against {show_words(one.against, NAME)}" if one.against and mixed else named


def _described(measure: str, sold: int, unsold: int, through: float | None, days: float | None) -> str:
    if measure == "days":
        return f"{days:.0f} days, the median of {formats.count(sold)} sold" if days is not None else "–"
    share = f", sell-through {formats.level(through)}" if through is not None else ""
    return f"{formats.count(sold)} sold, {formats.count(unsold)} unsold{share}"


def _period(point: IndexPoint, months: int) -> str:
    if months == 1:
        return formats.month(point.period)
    if months == 3:
        return formats.quarter(point.period)
    return str(point.period.year) if months == 12 else f"half-year from {formats.month(point.period)}"


def _points_of(factor: float) -> float:
    return round(100 * (factor - 1), 4)


def _plain(value: float) -> float:
    return float(f"{value:.6g}")
