"""The frames behind the market's charts and their tables."""

from collections.abc import Sequence

import polars as pl

from pipeline import formats
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.groups import Split
from pipeline.answers.market_view.index import Change, IndexPoint
from pipeline.answers.market_view.resales import Resales
from pipeline.answers.market_view.worth import Estimate, Worth
from pipeline.schema import UNKNOWN
from pipeline.untrusted import show_words
from reports.charts.time_axis import year_number
from reports.market_view.words import change_words

NAME = 90
YEAR_QUARTERS = 4
COMPLETENESS = ("box", "tags", "overlay", "part")
"""The attributes whose worths share one chart."""

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
            "band": change_words(change),
            "span": f"{formats.month(change.since)} to {formats.month(change.until)}",
        }
        for name, change in changes
    ]
    return pl.DataFrame(rows, schema={**_INTERVAL, "band": pl.String, "span": pl.String})


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
            "figure": f"{formats.percent_change(group.apart.factor)} against the market",
            "at": round(year_number(point.period) + 1 / 12, 4),
            "quarter": formats.quarter(point.period),
            "index": _plain(point.index),
            "low": _plain(point.low),
            "high": _plain(point.high),
            "market": _plain(point.index / own),
            "tip": f"{formats.quarter(point.period)}: {point.index:.0f} ({point.low:.0f} – {point.high:.0f})",
        }
        for number, group in enumerate(split.groups)
        for point, own in zip(group.points, group.apart_by_quarter, strict=True)
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
                    "tip": _told(measure, row.sold, row.unsold, row.sell_through, row.days),
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


def activity_frame(view: MarketView) -> pl.DataFrame:
    """Return one row a quarter and venue, latest first, as texts."""
    ordered = sorted(view.activity, key=lambda row: (-row.quarter.toordinal(), row.venue))
    return pl.DataFrame(
        {
            "quarter": [formats.quarter(row.quarter) for row in ordered],
            "venue": [show_words(row.venue, NAME) for row in ordered],
            "sold": [formats.count(row.sold) for row in ordered],
            "unsold": [formats.count(row.unsold) for row in ordered],
            "withdrawn": [formats.count(row.withdrawn) for row in ordered],
            "sell_through": [
                None if row.sell_through is None else formats.level(row.sell_through) for row in ordered
            ],
            "days": [None if row.days is None else f"{row.days:.0f}" for row in ordered],
            "turnover": [formats.estimate(row.turnover, view.currency) for row in ordered],
        },
        schema=dict.fromkeys(
            ("quarter", "venue", "sold", "unsold", "withdrawn", "sell_through", "days", "turnover"), pl.String
        ),
    )


def worth_frame(worths: Sequence[Worth]) -> pl.DataFrame:
    """Return one row a worth, as `interval_chart` and `curve_chart` read it, and its texts.

    Columns besides those: attribute, value, against, known (Boolean: the value is known), at (Float64: the
    value as a number, where it is one), error, sales, earlier, later, chance (String).
    """
    mixed = len({worth.attribute for worth in worths}) > 1
    rows = [
        {
            "words": _worth_words(worth, mixed=mixed),
            "figure": f"{formats.share(worth.worth.share)} ± {100 * worth.worth.error:.1f}",
            "said": f"{formats.counted(worth.worth.sales, 'sale')}; the bar is one standard error either way",
            "middle": round(100 * worth.worth.share, 4),
            "low": round(100 * (worth.worth.share - worth.worth.error), 4),
            "high": round(100 * (worth.worth.share + worth.worth.error), 4),
            "attribute": worth.attribute,
            "value": show_words(worth.value, NAME),
            "against": show_words(worth.against, NAME) or "without it",
            "known": worth.value != UNKNOWN,
            "share": formats.share(worth.worth.share),
            "error": f"{100 * worth.worth.error:.1f}",
            "sales": formats.count(worth.worth.sales),
            "earlier": _half(worth.earlier),
            "later": _half(worth.later),
            "moved": "moved" if worth.moved else "–" if worth.chance is None else "no",
        }
        for worth in worths
    ]
    texts = ("attribute", "value", "against", "share", "error", "sales", "earlier", "later", "moved")
    return pl.DataFrame(
        rows, schema={**_INTERVAL, **dict.fromkeys(texts, pl.String), "known": pl.Boolean}
    ).with_columns(pl.col("value").str.extract(r"^(\d+(?:\.\d+)?)").cast(pl.Float64).alias("at"))


def curve_frame(worths: Sequence[Worth]) -> pl.DataFrame:
    """Return the known values of an ordered attribute in their order, the one held against at nought."""
    known = worth_frame(worths).filter(pl.col("known") & pl.col("at").is_not_null())
    against = worths[0].against
    nought = {
        "words": show_words(against, NAME),
        "figure": "held against",
        "said": "every other value is held against this one",
        "middle": 0.0,
        "low": 0.0,
        "high": 0.0,
    }
    start = pl.DataFrame([nought], schema=_INTERVAL).with_columns(
        pl.lit(against).str.extract(r"^(\d+(?:\.\d+)?)").cast(pl.Float64).alias("at")
    )
    return pl.concat([known.select(start.columns), start]).sort("at")


def move_frame(worths: Sequence[Worth]) -> pl.DataFrame:
    """Return one row a worth that moved, as `moves_chart` reads it."""
    rows = [
        {
            "words": f"{worth.attribute}: {_worth_words(worth, mixed=False)}",
            "figure": f"{formats.share(worth.earlier.share)} → {formats.share(worth.later.share)}",
            "earlier": round(100 * worth.earlier.share, 4),
            "later": round(100 * worth.later.share, 4),
        }
        for worth in worths
        if worth.moved and worth.earlier and worth.later
    ]
    return pl.DataFrame(
        rows,
        schema={"words": pl.String, "figure": pl.String, "earlier": pl.Float64, "later": pl.Float64},
    )


def _worth_words(worth: Worth, *, mixed: bool) -> str:
    value = show_words(worth.value, NAME)
    named = f"{worth.attribute}: {value}" if mixed else value
    return f"{named}, against {show_words(worth.against, NAME)}" if worth.against and mixed else named


def _half(estimate: Estimate | None) -> str | None:
    return None if estimate is None else f"{formats.share(estimate.share)} ± {100 * estimate.error:.1f}"


def _told(measure: str, sold: int, unsold: int, through: float | None, days: float | None) -> str:
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
