"""The frames behind an appraisal's charts and their tables: one row a band, step, comparable, adjustment."""

import math

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal, Comparable, Step
from pipeline.untrusted import show_words

CHART_WORDS = 90
"""The most characters of a name beside a chart's mark; a narrow chart shows fewer."""

NO_TITLE = "(no title)"
BAND_WORDS = {0.5: "1 in 2", 0.8: "8 in 10", 0.95: "19 in 20"}


def band_frame(appraisal: Appraisal) -> pl.DataFrame:
    """Return one row a band, narrowest first.

    Columns: level (Float64, share), low, high (Float64, base currency), name ("80 %"), words
    ("8 in 10"), range (low to high as money).
    """
    bands = sorted(appraisal.bands, key=lambda band: band.level)
    return pl.DataFrame(
        {
            "level": [band.level for band in bands],
            "low": [band.low for band in bands],
            "high": [band.high for band in bands],
            "name": [formats.level(band.level) for band in bands],
            "words": [BAND_WORDS.get(band.level, "") for band in bands],
            "range": [
                f"{formats.estimate(band.low, appraisal.currency)} – "
                f"{formats.estimate(band.high, appraisal.currency)}"
                for band in bands
            ],
        },
        schema={
            "level": pl.Float64,
            "low": pl.Float64,
            "high": pl.Float64,
            "name": pl.String,
            "words": pl.String,
            "range": pl.String,
        },
    )


def step_frame(appraisal: Appraisal) -> pl.DataFrame:
    """Return one row a step of the waterfall, with a first row for the start and a last for the pair.

    Columns: kind (start, rise, fall, level, total), words (what the row says), before, after (Float64,
    base currency), low, high (`after` one standard error of the step either way), percent, money (the
    step as text), running (`after` as text), spread (the step one standard error either way, as text),
    sales (Int64; null for start and total), sales_text, guess (Boolean: no sale stands behind it).
    """
    currency = appraisal.currency
    rows: list[dict[str, object]] = [
        {
            "kind": "start",
            "words": show_words(f"Start: {appraisal.start}", CHART_WORDS),
            "before": appraisal.start_price,
            "after": appraisal.start_price,
            "running": formats.estimate(appraisal.start_price, currency),
            "guess": False,
        }
    ]
    before = appraisal.start_price
    for step in appraisal.steps:
        low, high = step.factor * math.exp(-step.error), step.factor * math.exp(step.error)
        rows.append(
            {
                "kind": "rise" if step.factor > 1 else "fall" if step.factor < 1 else "level",
                "words": _step_words(step),
                "before": before,
                "after": step.price_after,
                "low": step.price_after * math.exp(-step.error),
                "high": step.price_after * math.exp(step.error),
                "percent": formats.percent_change(step.factor),
                "money": formats.change(step.price_after - before, currency, price=before),
                "running": formats.estimate(step.price_after, currency),
                "spread": f"{formats.percent_change(low)} to {formats.percent_change(high)}",
                "sales": step.sales,
                "sales_text": formats.count(step.sales),
                "guess": step.sales == 0,
            }
        )
        before = step.price_after
    rows.append(
        {
            "kind": "total",
            "words": "This pair",
            "before": appraisal.median,
            "after": appraisal.median,
            "running": formats.estimate(appraisal.median, currency),
            "guess": False,
        }
    )
    return pl.DataFrame(
        rows,
        schema={
            "kind": pl.String,
            "words": pl.String,
            "before": pl.Float64,
            "after": pl.Float64,
            "low": pl.Float64,
            "high": pl.Float64,
            "percent": pl.String,
            "money": pl.String,
            "running": pl.String,
            "spread": pl.String,
            "sales": pl.Int64,
            "sales_text": pl.String,
            "guess": pl.Boolean,
        },
    )


def comparable_frame(appraisal: Appraisal) -> pl.DataFrame:
    """Return one row a comparable, in the order given (nearest first).

    Columns: row (its number, day and venue), title, venue, sold (day as text), paid, adjusted
    (Float64, base currency), paid_text, adjusted_text, total (all adjustments as one per cent),
    residual (what they leave, as per cent).
    """
    currency = appraisal.currency
    sales = appraisal.comparables
    return pl.DataFrame(
        {
            "row": [
                show_words(
                    f"{number}. {formats.day(sale.sold_on)}, {sale.venue or 'venue not known'}", CHART_WORDS
                )
                for number, sale in enumerate(sales, start=1)
            ],
            "title": [show_words(sale.title, CHART_WORDS) or NO_TITLE for sale in sales],
            "venue": [show_words(sale.venue, CHART_WORDS) for sale in sales],
            "sold": [formats.day(sale.sold_on) for sale in sales],
            "paid": [sale.price_paid for sale in sales],
            "adjusted": [sale.adjusted_price for sale in sales],
            "paid_text": [formats.amount(sale.price_paid, currency) for sale in sales],
            "adjusted_text": [formats.estimate(sale.adjusted_price, currency) for sale in sales],
            "total": [formats.percent_change(sale.adjusted_price / sale.price_paid) for sale in sales],
            "residual": [formats.percent_change(math.exp(sale.residual)) for sale in sales],
        },
        schema={
            "row": pl.String,
            "title": pl.String,
            "venue": pl.String,
            "sold": pl.String,
            "paid": pl.Float64,
            "adjusted": pl.Float64,
            "paid_text": pl.String,
            "adjusted_text": pl.String,
            "total": pl.String,
            "residual": pl.String,
        },
    )


def adjustment_frame(comparable: Comparable) -> pl.DataFrame:
    """Return one row an adjustment of a comparable: attribute, comparable, subject, percent (text)."""
    lines = comparable.adjustments
    return pl.DataFrame(
        {
            "attribute": [show_words(_capital(line.attribute)) for line in lines],
            "comparable": [show_words(line.comparable_value) for line in lines],
            "subject": [show_words(line.subject_value) for line in lines],
            "percent": [formats.percent_change(line.factor) for line in lines],
        },
        schema=dict.fromkeys(("attribute", "comparable", "subject", "percent"), pl.String),
    )


def _step_words(step: Step) -> str:
    words = show_words(f"{_capital(step.attribute)}: {step.value}", CHART_WORDS)
    return words if step.sales else f"{words} (no sale)"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
