"""The page of the market: what prices did, how busy the venues were, what each attribute is worth."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline import formats
from pipeline.answers import sheet
from pipeline.answers.appraisal.cautions import FEW_SALES
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.attribute_values import AttributeValue
from pipeline.answers.market_view.groups import Split
from pipeline.answers.market_view.tables import (
    activity_table,
    agreement_table,
    agreement_words,
    change_table,
    group_table,
    halves_words,
    index_table,
    moved_words,
    moves_table,
    state_market,
    value_table,
    year_table,
)
from pipeline.untrusted import show_sentences, show_words
from reports.charts.intervals import FORMS, interval_chart
from reports.facts import cautions_below, source_line, weak_notice
from reports.links import Link
from reports.market_view.curve import curve_chart
from reports.market_view.frames import (
    COMPLETENESS,
    agreement_frame,
    change_frame,
    curve_frame,
    group_frame,
    index_frame,
    move_frame,
    value_frame,
    venue_frame,
)
from reports.market_view.group_lines import group_lines
from reports.market_view.index import index_chart
from reports.market_view.moves import moves_chart
from reports.market_view.quarters import quarter_chart
from reports.page import Figure, Table, render_page, spoken

CURVES = {"size": "Foot length (mm)", "grade": "Grade"}
FEWEST_ON_A_CURVE = 3
HEADINGS = {
    "silhouette": "Silhouette",
    "era": "Era",
    "completeness": "Box, tags and what else belongs to it",
    "defect": "Defects",
    "treatment": "Treatments, at the grade that they leave",
    "venue": "Venue",
}


def market_page(view: MarketView, *, business: str, links: Sequence[Link] = ()) -> str:
    """Return the HTML page of the market; `business` is the owner's name (untrusted text)."""
    moved = move_frame(view.attribute_values)
    values = _value_figures(view)
    weak = weak_notice(view.weak)
    return render_page(
        "market_view/page.html.j2",
        business=business,
        links=links,
        as_of=formats.day(view.as_of),
        sentence=state_market(view),
        changes=Table.of(change_table(view)) if view.changes else None,
        index_figure=_index_figure(view) if view.index else None,
        resale_words=agreement_words(view.resales),
        resale_figure=_resale_figure(view) if view.resales.by_year else None,
        splits=[show_sentences(split.words) for split in view.splits],
        group_figures=[_group_figure(view, split) for split in view.splits if split.different],
        year_figure=_year_figure(view) if _has_years(view) else None,
        activity_figures=_activity_figures(view),
        value_figures=values,
        value_places=[(figure.key, heading) for heading, figure in values],
        halves_words=halves_words(view),
        moved_words=moved_words(view),
        moves_figure=_moves_figure(view, moved) if moved.height else None,
        weak=weak,
        cautions=cautions_below(view.cautions, weak),
        source=view.source,
    )


def market_figures(view: MarketView) -> tuple[Figure, ...]:
    """Return the figures of the page, in its order."""
    moved = move_frame(view.attribute_values)
    return (
        *((_index_figure(view),) if view.index else ()),
        *((_resale_figure(view),) if view.resales.by_year else ()),
        *((_year_figure(view),) if _has_years(view) else ()),
        *(_group_figure(view, split) for split in view.splits if split.different),
        *_activity_figures(view),
        *(figure for _, figure in _value_figures(view)),
        *((_moves_figure(view, moved),) if moved.height else ()),
    )


def _index_figure(view: MarketView) -> Figure:
    points = index_frame(view.index)
    own = index_frame(view.resales.points, view.resales.months)
    drawn = own if own.height and not view.resales.rough else own.clear()
    base = formats.month(view.base) if view.base else ""
    title = "What a pair costs by month, everything else equal"
    rings = (
        " Rings: what the same pairs fetched when sold again, with their 80 % band." if drawn.height else ""
    )
    first, last = view.index[0], view.index[-1]
    tables = [index_table("The index by month", view.index)]
    if own.height:
        resales = view.resales
        title_of_own = "The repeat-sales index" + (", rough" if resales.rough else "")
        tables.append(index_table(title_of_own, resales.points, resales.months, counts="Resales"))
    return Figure(
        key="index",
        chart=index_chart(points, drawn, title, base),
        alternative=f"Line of the index from {first.index:.0f} in {formats.month(first.period)} to {last.index:.0f} "
        f"in {formats.month(last.period)}, {base} being 100; its lowest is {min(p.index for p in view.index):.0f}, "
        f"its highest {max(p.index for p in view.index):.0f}.",
        note=f"Shaded: the 80 % band of the difference to {base}.{rings}",
        tables=tuple(tables),
        rows=points.select("period", "index", "low", "high"),
        source=source_line(view),
    )


def _resale_figure(view: MarketView) -> Figure:
    rows = agreement_frame(view.resales)
    in_words = spoken(rows, "{words}: {figure}")
    return Figure(
        key="resales",
        chart=interval_chart(
            rows, "Pairs sold again, beside the index", "Per cent against the index", form="band-80"
        ),
        alternative=f"What pairs sold again fetched against the index, by year: {in_words}.",
        note="By the year of the second sale; the bar is the 80 % band. Restoration, completeness and venue "
        "are allowed for.",
        tables=(agreement_table(view.resales),),
        rows=rows.select("words", percent="middle", low="low", high="high"),
        source=source_line(view),
    )


def _has_years(view: MarketView) -> bool:
    return any(group.year for split in view.splits for group in split.groups)


def _year_figure(view: MarketView) -> Figure:
    rows = change_frame(view)
    in_words = spoken(rows, "{words}: {figure}")
    return Figure(
        key="year",
        chart=interval_chart(
            rows, "What a year did, by era and family", "Change in twelve months (per cent)", form="band-80"
        ),
        alternative=f"Change of prices over the last year: {in_words}.",
        note="An era or family: what the whole market did in the same twelve months, times how it differed from the "
        "market; the bar is the 80 % band.",
        tables=(replace(year_table(view), note=""),),
        rows=rows.select("words", "span", percent="middle", low="low", high="high"),
        source=source_line(view),
    )


def _group_figure(view: MarketView, split: Split) -> Figure:
    points = group_frame(split)
    in_words = spoken(points.select("words", "figure").unique(maintain_order=True), "{words}, {figure}")
    return Figure(
        key=f"groups-{split.kind}",
        chart=group_lines(points, f"The index by {split.kind}"),
        alternative=f"Lines of the index by {split.kind}: {in_words}.",
        note="Line: its own index, on its 80 % band; dashed: the market as a whole; log scale.",
        tables=(group_table(split),),
        rows=points.select("words", "quarter", "index", "low", "high", "market"),
        source=source_line(view),
    )


def _activity_figures(view: MarketView) -> list[Figure]:
    asked = {
        "sold": ("Offered and sold, by quarter", "Outline: offered (withdrawn ones left out); filled: sold."),
        "sell-through": (
            "Sell-through, by quarter",
            "Sold of those that ended sold or unsold. A venue whose export lists sales only has none.",
        ),
        "days": (
            "Days on market, by quarter",
            "The median of days from the first offer to the sale, of those that sold; unsold ones waited longer. "
            "Auction lots have no such days.",
        ),
    }
    found = []
    for measure, (title, note) in asked.items():
        rows = venue_frame(view, measure)
        if rows.is_empty():
            continue
        most = 1.0 if measure == "sell-through" else float(rows["whole"].to_numpy().max()) or 1.0
        in_words = spoken(rows.select("words", "figure").unique(maintain_order=True), "{words}: {figure}")
        tallest = "100 %" if measure == "sell-through" else formats.count(round(most))
        found.append(
            Figure(
                key=measure,
                chart=quarter_chart(rows, title, most=most, most_text=tallest, outline=measure == "sold"),
                alternative=f"{title}, one row a venue: {in_words}. A full bar is {tallest}.",
                note=note,
                tables=(_activity_of(view, measure, title),),
                rows=rows.select(venue="words", quarter="quarter", value="value", whole="whole")
                if measure == "sold"
                else rows.select(venue="words", quarter="quarter", value="value"),
                source=source_line(view),
            )
        )
    return found


def _activity_of(view: MarketView, measure: str, title: str) -> sheet.Table:
    """Return the activity of the venues: all of it, or what a measure says, where it is known."""
    table = activity_table(view)
    if measure == "sold":
        return table
    key = measure.replace("-", "_")
    shown = table.showing("quarter", "venue", key, "sold", "unsold")
    return replace(shown, title=title, rows=table.rows.filter(pl.col(key).is_not_null()))


def _value_figures(view: MarketView) -> list[tuple[str, Figure]]:
    groups: dict[str, list[AttributeValue]] = {}
    for one in view.attribute_values:
        name = "completeness" if one.attribute in COMPLETENESS else one.attribute
        groups.setdefault(name, []).append(one)
    return [
        (HEADINGS.get(name, name.capitalize()), _value_figure(view, name, values))
        for name, values in groups.items()
        if value_frame(values)["known"].any()
    ]


def _value_figure(view: MarketView, name: str, values: list[AttributeValue]) -> Figure:
    rows = value_frame(values)
    known = rows.filter("known")
    if name != "era":  # eras stand in the order of the market file
        known = known.sort(["attribute", "middle"], descending=[False, True], maintain_order=True)
    heading = HEADINGS.get(name, name.capitalize())
    against = values[0].against
    single = len({one.against for one in values}) == 1 and against
    compared = (
        f"Against {name} {show_words(against, 90)}. "
        if single
        else "Against a pair without it. "
        if not against
        else ""
    )
    curve = name in CURVES and known["at"].is_not_null().sum() >= FEWEST_ON_A_CURVE
    in_words = spoken(known, "{words} {share}")
    few = f" Dashed and hollow: fewer than {FEW_SALES} sales." if known["guess"].any() and not curve else ""
    return Figure(
        key=f"worth-{name.replace(' ', '-')}",
        chart=curve_chart(curve_frame(values), heading, CURVES[name])
        if curve
        else interval_chart(known, heading, "Per cent of the price", form="error"),
        alternative=f"{heading}: {compared}{in_words}.",
        note=f"{compared}{FORMS['error']}{few}",
        tables=(value_table(name, f"What it is worth: {heading}", values),),
        rows=rows.select("attribute", "value", "against", percent="middle", low="low", high="high"),
        source=source_line(view),
    )


def _moves_figure(view: MarketView, moved: pl.DataFrame) -> Figure:
    in_words = spoken(moved, "{words}: {figure}")
    return Figure(
        key="moves",
        chart=moves_chart(moved, "Values that moved"),
        alternative=f"Values that moved between the halves of the records: {in_words}.",
        note="Hollow: the earlier half of the records; filled: the later.",
        tables=(moves_table(view.attribute_values),),
        rows=moved.select("words", "earlier", "later"),
        source=source_line(view),
    )
