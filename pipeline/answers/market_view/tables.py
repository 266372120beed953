"""The market in sentences and tables: read by the terminal, the page and the index of pages."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import state_weakness
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.attribute_values import FALSE_SHARE, FEWEST_SALES, AttributeValue
from pipeline.answers.market_view.groups import Split
from pipeline.answers.market_view.index import LEVEL, SPANS, YEAR, Change, IndexPoint
from pipeline.answers.market_view.resales import Resales
from pipeline.answers.sheet import (
    Brief,
    Column,
    Sheet,
    Table,
    count,
    decimal,
    estimate,
    factor,
    known,
    level,
    share,
    source_words,
    table,
    words,
)
from pipeline.untrusted import show_sentences, show_words

QUARTERS = 4
"""The last quarters of each venue that a sheet shows; the page and `--json` have all."""

POINTS = {
    "named": pl.String,
    "period": pl.Date,
    "index": pl.Float64,
    "low": pl.Float64,
    "high": pl.Float64,
    "sales": pl.Int64,
}

NAME = 90
"""The longest name that is shown."""


def market_sheet(view: MarketView) -> Sheet:
    """Return the sheet of the market: what a year did to prices, then by group, venue and attribute."""
    return Sheet(
        title=f"The market at {formats.day(view.as_of)}",
        sentences=(state_market(view), *(Brief(split.words) for split in view.splits)),
        tables=(
            change_table(view),
            _year_ends(view).as_detail(),
            year_table(view).as_detail(),
            replace(activity_table(view, quarters=1).marked(cut=("venue",)), key="last_quarter", brief=True),
            activity_table(view, quarters=QUARTERS).as_detail(),
            value_table(
                "values",
                "What each attribute is worth",
                view.attribute_values,
                note=f"{halves_words(view)} {moved_words(view)}".strip(),
            ).as_detail(),
        ),
        warnings=view.cautions,
        source=source_words(view.source),
        weak=state_weakness(view.weak),
    )


def change_table(view: MarketView) -> Table:
    """Return what prices did over each span of time."""
    return table(
        "changes",
        "What prices did, everything else equal",
        (words("span", "Prices"), factor("factor", "Change"), _band()),
        [
            {"span": span_words(change), "factor": change.factor, "low": change.low, "high": change.high}
            for change in view.changes
        ],
    )


def year_table(view: MarketView) -> Table:
    """Return what the last year did to prices, of the market as a whole and of each era and family."""
    named: list[tuple[str, int | None, Change | None]] = [("The whole market", None, view.year)]
    for split in view.splits:
        named += [(f"{split.kind}: {group.name}", group.sales, group.year) for group in split.groups]
    return table(
        "year",
        "What a year did, by era and family",
        (
            words("group", "Of"),
            count("sales", "Sales"),
            factor("factor", "Change"),
            _band(),
            words("span", "From and to"),
        ),
        [
            {
                "group": show_words(name, NAME),
                "sales": sales,
                "factor": year.factor,
                "low": year.low,
                "high": year.high,
                "span": f"{formats.month(year.since)} to {formats.month(year.until)}",
            }
            for name, sales, year in named
            if year
        ],
        note="\n".join(split.words for split in view.splits),
    )


def activity_table(view: MarketView, *, quarters: int | None = None) -> Table:
    """Return what each venue offered and sold by quarter, latest first; the last `quarters`, or all."""
    shown = sorted({row.quarter for row in view.activity}, reverse=True)[:quarters]
    return table(
        "activity",
        "Offered and sold by quarter and venue",
        (
            words("venue", "Venue"),
            Column("quarter", "Quarter", formats.quarter),
            count("sold", "Sold"),
            count("unsold", "Unsold"),
            level("sell_through", "Sell-through"),
            decimal("days", "Days on market", 0),
            count("withdrawn", "Withdrawn"),
            estimate("turnover", "Turnover, all-in", view.currency),
        ),
        [
            vars(row)
            for quarter in shown
            for row in sorted(view.activity, key=lambda row: row.venue)
            if row.quarter == quarter
        ],
    )


def value_table(key: str, title: str, values: Sequence[AttributeValue], note: str = "") -> Table:
    """Return what each value of an attribute does to the price, and in each half of the records."""
    return table(
        key,
        title,
        (
            words("attribute", "Attribute"),
            Column("value", "Value", known),
            words("against", "Against"),
            share("share", "Worth"),
            decimal("error", "± s.e., points", 1),
            count("sales", "Sales"),
            share("earlier", "Earlier half"),
            share("later", "Later half"),
            words("moved", "Moved?"),
            decimal("earlier_error", "± earlier, points", 1),
            decimal("later_error", "± later, points", 1),
        ),
        [
            {
                "attribute": one.attribute,
                "value": show_words(one.value, NAME),
                "against": show_words(one.against, NAME) or "without it",
                **vars(one.effect),
                "error": 100 * one.effect.error,
                "earlier": one.earlier and one.earlier.share,
                "later": one.later and one.later.share,
                "earlier_error": one.earlier and 100 * one.earlier.error,
                "later_error": one.later and 100 * one.later.error,
                "moved": "moved" if one.moved else None if one.chance is None else "no",
            }
            for one in values
        ],
        note=note,
    )


def _year_ends(view: MarketView) -> Table:
    """Return the index in the last month of each year, and what resales of the same pairs say of the year."""
    last = {point.period.year: point for point in view.index}
    resold = {point.period.year: point for point in view.resales.points}
    return table(
        "year_ends",
        f"The index by year{f', {formats.month(view.base)} = 100' if view.base else ''}",
        (
            words("year", "Year"),
            decimal("index", "In its last month", 0),
            _index_band(),
            decimal("resales", "Resales", 0),
            Column("resale_band", "80 % band", number=True),
        ),
        [
            {
                "year": str(year),
                **vars(point),
                "resales": resold[year].index if year in resold else None,
                "resale_band": index_band(vars(resold[year])) if year in resold else None,
            }
            for year, point in last.items()
        ],
        note=agreement_words(view.resales),
    )


def index_table(title: str, points: Sequence[IndexPoint], months: int = 1, *, counts: str = "Sales") -> Table:
    """Return an index over periods of so many months, latest first; `counts` heads the sales of a period."""
    return table(
        "index",
        title,
        (words("named", "Period"), decimal("index", "Index", 0), _index_band(), count("sales", counts)),
        pl.DataFrame(
            [vars(point) | {"named": period_words(point.period, months)} for point in reversed(points)],
            schema=POINTS,
        ),
    )


def agreement_table(resales: Resales) -> Table:
    """Return what pairs sold again fetched against the index, by the year of the second sale."""
    return table(
        "resales",
        "Pairs sold again, beside the index",
        (
            Column("year", "Year"),
            count("pairs", "Resales"),
            factor("factor", "Against the index"),
            _band(),
        ),
        [vars(one) for one in resales.by_year],
    )


def group_table(split: Split) -> Table:
    """Return the index of each group by quarter; `market` is that of the groups together."""
    return table(
        f"groups-{split.kind}",
        f"The index by {split.kind} and quarter",
        (
            words("group", split.kind.capitalize()),
            Column("period", "Quarter", formats.quarter),
            decimal("index", "Index", 0),
            _index_band(),
            decimal("market", "The market", 0),
        ),
        [
            vars(point) | {"group": show_words(group.name, NAME), "market": point.index / ratio}
            for group in split.groups
            for point, ratio in zip(group.points, group.ratio_by_quarter, strict=True)
        ],
    )


def moves_table(values: Sequence[AttributeValue]) -> Table:
    """Return the values that moved between the halves of the records."""
    moved = [one for one in values if one.moved and one.earlier and one.later]
    return value_table("moves", "Values that moved", moved).showing("attribute", "value", "earlier", "later")


def period_words(start: date, months: int) -> str:
    """Return the name of a period of so many months that begins on a day."""
    if months == 1:
        return formats.month(start)
    if months == 3:
        return formats.quarter(start)
    return str(start.year) if months == 12 else f"half-year from {formats.month(start)}"


def _band() -> Column:
    return Column("band", "80 % band", number=True, describe=band_words)


def band_words(row: Mapping[str, Any]) -> str:
    """Return the band of a change, of a row with its ends: −1.6 % to +7.6 %."""
    return f"{formats.percent_change(row['low'])} to {formats.percent_change(row['high'])}"


def _index_band() -> Column:
    return Column("band", "80 % band", number=True, describe=index_band)


def index_band(row: Mapping[str, Any]) -> str:
    """Return the band of an index, of a row with its ends: 96 – 104."""
    return f"{row['low']:.0f} – {row['high']:.0f}"


def state_market(view: MarketView) -> str:
    """Return the answer to the question of the page: what a year did to prices."""
    year = view.year or (view.changes[-1] if view.changes else None)
    if year is None:
        return "The records do not go back far enough to say what the market did."
    span = "a year earlier" if year.months == YEAR else f"{formats.counted(year.months, 'month')} earlier"
    month = formats.month(year.until)
    if year.low <= 1 <= year.high:
        return (
            f"In {month} a pair fetched about what it did {span}: the estimate is "
            f"{formats.percent_change(year.factor)}, and the 80 % band ({band_words(vars(year))}) includes zero."
        )
    way = "more" if year.factor > 1 else "less"
    size = formats.percent_change(year.factor)
    much = f"{size} as much as" if size.startswith("×") else f"{size[1:]} {way} than"
    return f"In {month} a pair fetched {much} {span}; 80 % band {band_words(vars(year))}."


def span_words(change: Change) -> str:
    """Return the span of a change: "in 12 months", "since October 2017"."""
    if change.months in SPANS:
        return f"in {change.months} months, to {formats.month(change.until)}"
    return f"since {formats.month(change.since)}"


def agreement_words(resales: Resales) -> str:
    """Return what resales of the same pairs say of the index."""
    sentences = []
    whole = resales.agreement
    if whole is not None:
        size = formats.percent_change(whole.factor)
        band = band_words(vars(whole))
        verdict = (
            "no more than chance explains" if whole.low <= 1 <= whole.high else "more than chance explains"
        )
        sentences.append(
            f"{formats.counted(whole.pairs, 'pair')} sold again fetched {size} against the index over "
            f"the time between ({formats.level(LEVEL)} band {band}): {verdict}."
        )
    if resales.why_not:
        sentences.append(resales.why_not)
    elif resales.rough:
        sentences.append(
            f"An index from the {formats.count(resales.pairs)} of them that reach from one year to another is "
            f"rough: it errs by up to ±{100 * (math.exp(resales.error) - 1):.0f} % (one standard error), so it "
            "is in the table only."
        )
    else:
        period = {3: "quarter", 6: "half-year", 12: "year"}[resales.months]
        sentences.append(
            f"Their own index, by {period}, rests on {formats.counted(resales.pairs, 'resale')}."
        )
    return " ".join(sentences)


def halves_words(view: MarketView) -> str:
    """Return how the records were halved, or why they were not."""
    halves = view.halves
    if halves.why_not or halves.earlier_to is None or halves.later_from is None:
        return f"Whether these values moved is not known: {show_sentences(halves.why_not)}"
    return (
        f"Earlier: the {formats.count(halves.earlier)} sales to {formats.day(halves.earlier_to)}; later: the "
        f"{formats.count(halves.later)} since, each fitted by itself. A value with fewer than {FEWEST_SALES} "
        "sales in a half is not compared."
    )


def moved_words(view: MarketView) -> str:
    """Return which values moved between the halves of the records."""
    if view.halves.why_not:
        return ""
    moved = [one for one in view.attribute_values if one.moved]
    compared = sum(one.chance is not None for one in view.attribute_values)
    if not moved:
        return f"Of {formats.counted(compared, 'value')} compared, none moved by more than chance explains."
    named = "; ".join(
        f"{one.attribute} {show_words(one.value, 60)} {formats.share(one.earlier.share)} → "
        f"{formats.share(one.later.share)}"
        for one in moved
        if one.earlier and one.later
    )
    return (
        f"Of {formats.counted(compared, 'value')} compared, {formats.count(len(moved))} moved: {named}. (At most "
        f"about {formats.level(FALSE_SHARE)} of such findings are chance.)"
    )
