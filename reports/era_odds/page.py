"""The page of a pair whose era is in doubt: the mixed band, each era beside it, and what an answer is worth."""

from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.answers.era_odds.answer import MIDDLE, EraInDoubt
from pipeline.untrusted import show_words
from reports.era_odds.chart import era_odds_chart
from reports.facts import pair_facts, pair_heading, source_line
from reports.page import Column, Figure, render_page, tabulate, write_page


def era_odds_page(doubt: EraInDoubt, *, business: str) -> str:
    """Return the HTML page of a pair whose era is in doubt; `business` is the owner's name (untrusted text)."""
    heading, subheading = pair_heading(doubt.pair)
    band = next(band for band in doubt.bands if band.level == MIDDLE)
    low, high = (formats.estimate(end, doubt.currency) for end in (band.low, band.high))
    return render_page(
        "era_odds/page.html.j2",
        charts=True,
        business=business,
        heading=heading,
        subheading=subheading,
        as_of=formats.day(doubt.as_of),
        median=formats.estimate(doubt.median, doubt.currency),
        sentence=f"With the era in doubt, such a pair sells eight times in ten for between {low} and {high}, all-in.",
        eras_figure=_figure(doubt),
        finding_out=finding_out_words(doubt),
        origin=doubt.origin,
        facts=[(name, value) for name, value in pair_facts(doubt.pair) if name != "Era"],
        cautions=[show_words(caution, 400) for caution in doubt.cautions],
        source=doubt.source,
    )


def era_odds_figures(doubt: EraInDoubt) -> tuple[Figure, ...]:
    """Return the figures of the page."""
    return (_figure(doubt),)


def write_era_odds_page(doubt: EraInDoubt, path: Path, *, business: str) -> Path:
    """Write the page of a pair whose era is in doubt and return its path; raises ReportError where it cannot."""
    return write_page(era_odds_page(doubt, business=business), path)


def finding_out_words(doubt: EraInDoubt) -> str:
    """Return in words what a certain answer is worth."""
    currency = doubt.currency
    most = formats.estimate(doubt.most, currency)
    average = formats.estimate(doubt.average, currency)
    if doubt.at_price == doubt.average:
        return (
            f"Finding out is worth at most {most}: so much to one who may take the pair at {average}, what it is worth "
            "on average. The nearer the price is to that of one era, the less an answer is worth."
        )
    asked, worth = (formats.estimate(price, currency) for price in (doubt.at_price, doubt.finding_out))
    return (
        f"To one who may take the pair at {asked}, finding out is worth {worth}; "
        f"at most it is worth {most}, at {average}."
    )


def era_frame(doubt: EraInDoubt) -> pl.DataFrame:
    """Return one row an era, the mixture first: words, chance, figure, range, sales (String), middle, low, high."""
    currency = doubt.currency
    band = next(band for band in doubt.bands if band.level == MIDDLE)
    rows = [
        ("In doubt", "", doubt.median, band.low, band.high, ""),
        *(
            (
                f"If {show_words(era.era, 80)}",
                formats.level(era.chance),
                era.median,
                era.low,
                era.high,
                formats.count(era.sales),
            )
            for era in doubt.eras
        ),
    ]
    return pl.DataFrame(
        [
            {
                "words": f"{words} ({chance})" if chance else words,
                "chance": chance or "–",
                "figure": formats.estimate(middle, currency),
                "range": f"{formats.estimate(low, currency)} to {formats.estimate(high, currency)}",
                "sales": sales or "–",
                "middle": middle,
                "low": low,
                "high": high,
            }
            for words, chance, middle, low, high, sales in rows
        ]
    )


def _figure(doubt: EraInDoubt) -> Figure:
    rows = era_frame(doubt)
    spoken = "; ".join(
        f"{words} {middle}, {span}"
        for words, middle, span in rows.select("words", "figure", "range").iter_rows()
    )
    return Figure(
        key="eras",
        chart=era_odds_chart(rows, doubt.currency),
        alternative=f"Median and {formats.level(MIDDLE)} band of the price: {spoken}.",
        note=f"Dot: the median. Bar: the {formats.level(MIDDLE)} band. {source_line(doubt)}",
        tables=(
            tabulate(
                rows,
                "The eras and what each would make of the pair",
                {
                    "words": Column("Era"),
                    "chance": Column("Chance", figures=True),
                    "figure": Column("Median", figures=True),
                    "range": Column("Band", figures=True),
                    "sales": Column("Sales of it", figures=True),
                },
            ),
        ),
        rows=rows.select("words", "chance", median="middle", low="low", high="high"),
    )
