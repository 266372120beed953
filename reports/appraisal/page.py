"""The page of one appraisal: the answer first, then what it rests on."""

import math
from collections.abc import Sequence

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal, Comparable
from pipeline.answers.appraisal.tables import (
    NO_TITLE,
    NO_VENUE,
    adjustments_table,
    bands_table,
    comparables_table,
    sale_name,
    state_answer,
    steps_table,
    support_table,
)
from pipeline.pictures.photograph import Photograph
from pipeline.untrusted import show_words
from reports.appraisal.band import band_chart
from reports.appraisal.comparables import comparables_chart
from reports.appraisal.frames import band_frame, comparable_frame, step_frame
from reports.appraisal.waterfall import waterfall_chart
from reports.facts import (
    cautions_below,
    check_prices,
    pair_facts,
    pair_heading,
    source_line,
    weak_notice,
)
from reports.links import Link
from reports.page import Figure, Table, render_page, spoken
from reports.photographs import show_photographs

MOST_PICTURES = 4
"""The most photographs of the pair that the page shows."""


def appraisal_page(
    appraisal: Appraisal,
    *,
    business: str,
    links: Sequence[Link] = (),
    pictures: Sequence[Photograph] = (),
) -> str:
    """Return the HTML page of an appraisal; `business` is the owner's name (untrusted text).

    Raises ReportError for an appraisal with a price that is not finite or not above zero.
    """
    check_prices(appraisal)
    heading, subheading = pair_heading(appraisal.pair)
    weak = weak_notice(appraisal.weak, in_support=appraisal.in_support)
    return render_page(
        "appraisal/page.html.j2",
        scripts=("print.js",),
        business=business,
        links=links,
        heading=heading,
        subheading=subheading,
        pictures=show_photographs(pictures, appraisal.pair),
        as_of=formats.day(appraisal.as_of),
        median=formats.estimate(appraisal.median, appraisal.currency),
        weak=weak,
        sentence=state_answer(appraisal),
        band_figure=_band_figure(appraisal),
        facts=pair_facts(appraisal.pair),
        waterfall_words=_waterfall_words(appraisal),
        waterfall_figure=_waterfall_figure(appraisal),
        comparables=[_sale(sale, appraisal) for sale in appraisal.comparables],
        comparables_words=_comparables_words(appraisal),
        comparables_figure=_comparables_figure(appraisal) if appraisal.comparables else None,
        support=Table.of(support_table(appraisal)),
        support_words=_support_words(appraisal),
        cautions=cautions_below(appraisal.cautions, weak),
        source=appraisal.source,
    )


def appraisal_figures(appraisal: Appraisal) -> tuple[Figure, ...]:
    """Return the figures of the page; raises ReportError as `appraisal_page` does."""
    check_prices(appraisal)
    drawn = (_band_figure(appraisal), _waterfall_figure(appraisal))
    return (*drawn, _comparables_figure(appraisal)) if appraisal.comparables else drawn


def _band_figure(appraisal: Appraisal) -> Figure:
    bands = band_frame(appraisal)
    in_words = spoken(bands, "{name}: {range}")
    found = formats.counted(len(appraisal.comparables), "comparable sale")
    hollow = " Hollow, dashed bars: the evidence is weak." if appraisal.weak else ""
    dots = " Dots: comparable sales, adjusted." if appraisal.comparables else ""
    return Figure(
        key="band",
        chart=band_chart(appraisal),
        alternative=f"Bands of the price about a median of "
        f"{formats.estimate(appraisal.median, appraisal.currency)}. {in_words}. {found} beneath.",
        note=f"Dashed line: the median.{dots}{hollow}",
        tables=(bands_table(appraisal.bands, appraisal.currency),),
        rows=bands.select("level", "low", "high", median=pl.lit(appraisal.median)),
        source=source_line(appraisal),
    )


def _waterfall_words(appraisal: Appraisal) -> str:
    return (
        f"It starts from {formats.estimate(appraisal.start_price, appraisal.currency)} "
        f"({show_words(appraisal.start)}). Each line multiplies the price by what buyers paid for that attribute."
    )


def _waterfall_figure(appraisal: Appraisal) -> Figure:
    steps = step_frame(appraisal)
    in_words = spoken(steps.with_columns(figure=pl.coalesce("percent", "running")), "{words} {figure}")
    return Figure(
        key="waterfall",
        chart=waterfall_chart(appraisal),
        alternative=f"Steps from the start to this pair: {in_words}.",
        note="On the right: the step in per cent and in money. Thin line: one standard error either way. "
        "Dashed box: no sale behind it.",
        tables=(steps_table(appraisal),),
        rows=steps.select("words", "before", "after", "low", "high", "sales"),
        source=source_line(appraisal),
    )


def _comparables_words(appraisal: Appraisal) -> str:
    found = formats.counted(len(appraisal.comparables), "past sale")
    return (
        f"{found}, nearest first. Each is what was paid, then adjusted to this pair and to the market today."
    )


def _comparables_figure(appraisal: Appraisal) -> Figure:
    sales = comparable_frame(appraisal)
    in_words = spoken(sales, "{title}, paid {paid_text}, adjusted {adjusted_text}")
    return Figure(
        key="comparables",
        chart=comparables_chart(appraisal),
        alternative=f"Comparable sales, paid and adjusted: {in_words}.",
        note="Hollow: paid. Filled: adjusted to this pair (the amount on the right). Bar: the 80 % band; "
        "dashed: the median.",
        tables=(comparables_table(appraisal),),
        rows=sales.select("title", "venue", "sold", "paid", "adjusted"),
        source=source_line(appraisal),
    )


def _sale(sale: Comparable, appraisal: Appraisal) -> dict[str, object]:
    """Return what the page says of one comparable."""
    currency, name = appraisal.currency, show_words(sale_name(sale, appraisal.pair))
    title = show_words(sale.title) or NO_TITLE
    return {
        "name": name,
        "title": "" if title == name else title,
        "record_id": show_words(sale.record_id, 80),
        "venue": show_words(sale.venue, 80) or NO_VENUE,
        "sold": formats.day(sale.sold_on),
        "paid": formats.amount(sale.price_paid, currency),
        "adjusted": formats.estimate(sale.adjusted_price, currency),
        "lines": Table.of(adjustments_table(sale)),
        "left": _left_words(sale.residual),
    }


def _left_words(residual: float) -> str:
    """Return in words what the adjustments leave of a sale: log(paid / fitted)."""
    size = formats.percent_change(math.exp(residual))
    if formats.is_zero(size):
        return "Left unexplained: nothing; it sold at its fair value."
    if size.startswith("×"):
        return f"Left unexplained: it sold at {size} its fair value."
    side = "above" if residual > 0 else "below"
    return f"Left unexplained: it sold {size[1:]} {side} its fair value."


def _support_words(appraisal: Appraisal) -> str:
    bare = sum(step.sales == 0 for step in appraisal.steps)
    guessed = f" {formats.counted(bare, 'attribute')} of it never sold in your records." if bare else ""
    return (
        f"The model was fitted on {appraisal.source.sale_records}; "
        f"the table counts those that share each attribute of the pair, whatever their model.{guessed}"
    )
