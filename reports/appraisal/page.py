"""The page of one appraisal: the answer first, then what it rests on."""

import math
from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal, Comparable
from pipeline.market.bands import Band
from pipeline.untrusted import show_words
from reports.appraisal.band import band_chart
from reports.appraisal.comparables import comparables_chart
from reports.appraisal.frames import adjustment_frame, band_frame, comparable_frame, step_frame
from reports.appraisal.waterfall import waterfall_chart
from reports.facts import check_prices, pair_facts, pair_heading, source_line
from reports.page import Column, Figure, Table, render_page, tabulate, write_page

STRONG, SOME = 100, 20
"""Sales behind an attribute from which the page calls its support strong, or fair (a habit, no test)."""

ANSWER = "A pair like this should sell for about {median}, all-in; eight times in ten, for between {low} and {high}."
ANSWER_OUTSIDE = (
    "With no sale of its silhouette to go by, the best guess is about {median}, all-in; the 80 % band about it runs "
    "from {low} to {high}."
)
"""The answer as a dealer would say it, of a pair inside the records and of one outside them."""


def appraisal_page(appraisal: Appraisal, *, business: str) -> str:
    """Return the HTML page of an appraisal; `business` is the owner's name (untrusted text).

    Raises ReportError for an appraisal that holds a price that is none (not finite, or not above nought).
    """
    check_prices(appraisal)
    heading, subheading = pair_heading(appraisal.pair)
    return render_page(
        "appraisal/page.html.j2",
        charts=True,
        business=business,
        heading=heading,
        subheading=subheading,
        as_of=formats.day(appraisal.as_of),
        median=formats.estimate(appraisal.median, appraisal.currency),
        in_support=appraisal.in_support,
        sentence=state_answer(appraisal),
        band_figure=_band_figure(appraisal),
        facts=pair_facts(appraisal.pair),
        waterfall_words=_waterfall_words(appraisal),
        waterfall_figure=_waterfall_figure(appraisal),
        comparables=[_sale(sale, appraisal.currency) for sale in appraisal.comparables],
        comparables_words=_comparables_words(appraisal),
        comparables_figure=_comparables_figure(appraisal) if appraisal.comparables else None,
        support=_support_table(appraisal),
        support_words=_support_words(appraisal),
        cautions=[show_words(caution) for caution in appraisal.cautions],
        source=appraisal.source,
    )


def appraisal_figures(appraisal: Appraisal) -> tuple[Figure, ...]:
    """Return the figures of the page; raises ReportError as `appraisal_page` does."""
    check_prices(appraisal)
    drawn = (_band_figure(appraisal), _waterfall_figure(appraisal))
    return (*drawn, _comparables_figure(appraisal)) if appraisal.comparables else drawn


def write_appraisal(appraisal: Appraisal, path: Path, *, business: str) -> Path:
    """Write the page of an appraisal and return its path; raises ReportError where it cannot."""
    return write_page(appraisal_page(appraisal, business=business), path)


def state_answer(appraisal: Appraisal) -> str:
    """Return the answer as a dealer would say it: the median, and the 80 % band."""
    band = next((band for band in appraisal.bands if round(band.level, 2) == 0.8), None)
    median = formats.estimate(appraisal.median, appraisal.currency)
    if band is None:
        return f"{(ANSWER if appraisal.in_support else ANSWER_OUTSIDE).split(';')[0]}.".format(median=median)
    low, high = (formats.estimate(end, appraisal.currency) for end in (band.low, band.high))
    return (ANSWER if appraisal.in_support else ANSWER_OUTSIDE).format(median=median, low=low, high=high)


def _bands_table(appraisal: Appraisal) -> Table:
    currency = appraisal.currency
    rows = band_frame(appraisal).with_columns(
        low_text=pl.Series([formats.estimate(band.low, currency) for band in _narrow_first(appraisal)]),
        high_text=pl.Series([formats.estimate(band.high, currency) for band in _narrow_first(appraisal)]),
    )
    return tabulate(
        rows,
        "The bands: how often such a pair sells within them",
        {
            "name": Column("Band"),
            "words": Column("Sells within"),
            "low_text": Column("From", figures=True),
            "high_text": Column("To", figures=True),
        },
    )


def _narrow_first(appraisal: Appraisal) -> list[Band]:
    return sorted(appraisal.bands, key=lambda band: band.level)


def _band_figure(appraisal: Appraisal) -> Figure:
    spoken = "; ".join(
        f"{name}: {span}" for name, span in band_frame(appraisal).select("name", "range").iter_rows()
    )
    found = formats.counted(len(appraisal.comparables), "comparable sale")
    dots = " Dots: comparable sales, adjusted." if appraisal.comparables else ""
    return Figure(
        key="band",
        chart=band_chart(appraisal),
        alternative=f"Bands of the price about a median of "
        f"{formats.estimate(appraisal.median, appraisal.currency)}. {spoken}. {found} beneath.",
        note=f"Dashed line: the median.{dots} {source_line(appraisal)}",
        tables=(_bands_table(appraisal), *((_adjusted_table(appraisal),) if appraisal.comparables else ())),
        rows=band_frame(appraisal).select("level", "low", "high", median=pl.lit(appraisal.median)),
    )


def _adjusted_table(appraisal: Appraisal) -> Table:
    return tabulate(
        comparable_frame(appraisal),
        "Comparable sales and their adjusted prices",
        {"title": Column("Sale"), "sold": Column("Sold"), "adjusted_text": Column("Adjusted", figures=True)},
    )


def _waterfall_words(appraisal: Appraisal) -> str:
    return (
        f"It starts from {formats.estimate(appraisal.start_price, appraisal.currency)} "
        f"({show_words(appraisal.start)}). Each line multiplies the price by what buyers paid for that attribute."
    )


def _waterfall_figure(appraisal: Appraisal) -> Figure:
    steps = step_frame(appraisal)
    spoken = "; ".join(
        f"{words} {percent or running}"
        for words, percent, running in steps.select("words", "percent", "running").iter_rows()
    )
    return Figure(
        key="waterfall",
        chart=waterfall_chart(appraisal),
        alternative=f"Steps from the start to this pair: {spoken}.",
        note="The figure at the right is the step in per cent and in money; the thin line is one standard "
        f"error either way; a dashed box has no sale behind it. {source_line(appraisal)}",
        tables=(
            tabulate(
                steps,
                "The steps of the price",
                {
                    "words": Column("Step"),
                    "percent": Column("Per cent", figures=True),
                    "money": Column("Money", figures=True),
                    "running": Column("Price after", figures=True),
                    "spread": Column("± one standard error", figures=True),
                    "sales_text": Column("Sales behind it", figures=True),
                },
            ),
        ),
        rows=steps.select("words", "before", "after", "low", "high", "sales"),
    )


def _comparables_words(appraisal: Appraisal) -> str:
    found = formats.counted(len(appraisal.comparables), "past sale")
    return (
        f"{found}, nearest first. Each is what was paid, then what it says of this pair once its "
        "differences and the market since are allowed for."
    )


def _comparables_figure(appraisal: Appraisal) -> Figure:
    sales = comparable_frame(appraisal)
    spoken = "; ".join(
        f"{title}, paid {paid}, adjusted {adjusted}"
        for title, paid, adjusted in sales.select("title", "paid_text", "adjusted_text").iter_rows()
    )
    return Figure(
        key="comparables",
        chart=comparables_chart(appraisal),
        alternative=f"Comparable sales, paid and adjusted: {spoken}.",
        note="Hollow: paid. Filled: adjusted to this pair (the figure at the right). Bar: the 80 % band; "
        f"dashed: the median. {source_line(appraisal)}",
        tables=(
            tabulate(
                sales,
                "The nearest sales",
                {
                    "title": Column("Sale"),
                    "venue": Column("Venue"),
                    "sold": Column("Sold"),
                    "paid_text": Column("Paid", figures=True),
                    "total": Column("Adjusted by", figures=True),
                    "adjusted_text": Column("Adjusted", figures=True),
                    "residual": Column("Against the model", figures=True),
                },
            ),
        ),
        rows=sales.select("title", "venue", "sold", "paid", "adjusted"),
    )


def _sale(sale: Comparable, currency: str) -> dict[str, object]:
    """Return what the page says of one comparable."""
    return {
        "title": show_words(sale.title) or "(no title)",
        "record_id": show_words(sale.record_id, 80),
        "venue": show_words(sale.venue, 80) or "(venue not known)",
        "sold": formats.day(sale.sold_on),
        "paid": formats.amount(sale.price_paid, currency),
        "adjusted": formats.estimate(sale.adjusted_price, currency),
        "lines": tabulate(
            adjustment_frame(sale),
            "How it is adjusted to this pair",
            {
                "attribute": Column("Attribute"),
                "comparable": Column("This sale"),
                "subject": Column("The pair"),
                "percent": Column("Adjusts by", figures=True),
            },
        ),
        "left": _left_words(sale.residual),
    }


def _left_words(residual: float) -> str:
    """Return in words what the adjustments leave of a sale: log(paid / fitted)."""
    size = formats.percent_change(math.exp(residual))
    if formats.is_zero(size):
        return "Left unexplained: nothing; it sold at what the model makes of it."
    if size.startswith("×"):
        return f"Left unexplained: it sold at {size} what the model makes of it."
    side = "above" if residual > 0 else "below"
    return f"Left unexplained: it sold {size[1:]} {side} what the model makes of it."


def _support_table(appraisal: Appraisal) -> Table:
    rows = (
        step_frame(appraisal)
        .filter(pl.col("sales").is_not_null())
        .with_columns(
            word=pl.when(pl.col("sales") >= STRONG)
            .then(pl.lit("strong"))
            .when(pl.col("sales") >= SOME)
            .then(pl.lit("fair"))
            .when(pl.col("sales") > 0)
            .then(pl.lit("thin"))
            .otherwise(pl.lit("none: a guess from its kin"))
        )
    )
    return tabulate(
        rows,
        "Sales behind each attribute",
        {
            "words": Column("Attribute"),
            "sales_text": Column("Sales", figures=True),
            "word": Column("Support"),
        },
    )


def _support_words(appraisal: Appraisal) -> str:
    bare = sum(step.sales == 0 for step in appraisal.steps)
    guessed = f" {formats.counted(bare, 'attribute')} of it never sold in your records." if bare else ""
    return (
        f"The model was fitted on {formats.counted(appraisal.source.records, 'sale record')}; "
        f"this many of them share each attribute of the pair.{guessed}"
    )
