"""The frames behind an appraisal's charts: one row a band, step, comparable."""

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.tables import (
    NO_TITLE,
    bands_table,
    comparables_table,
    range_words,
    steps_table,
)
from pipeline.answers.sheet import NOT_KNOWN
from pipeline.untrusted import show_words

CHART_WORDS = 90
"""The most characters of a name beside a chart's mark; a narrow chart shows fewer."""

START_WORDS = 240
"""The most characters of the words of the start, which the waterfall writes on several lines."""


def band_frame(appraisal: Appraisal) -> pl.DataFrame:
    """Return one row a band, narrowest first.

    Columns: level (Float64, share), low, high (Float64, base currency), name ("80 %"), words
    ("8 in 10"), range (low to high as money).
    """
    bands = bands_table(appraisal.bands, appraisal.currency)
    ranges = [
        range_words(low, high, appraisal.currency)
        for low, high in bands.rows.select("low", "high").iter_rows()
    ]
    return bands.rows.select(
        "level",
        "low",
        "high",
        *bands.text_columns(name="level"),
        "words",
        pl.Series("range", ranges, pl.String),
    )


def step_frame(appraisal: Appraisal) -> pl.DataFrame:
    """Return the rows of the waterfall (see `steps_table`) with their texts.

    Columns: kind, words, before, after, low, high (Float64, base currency), percent, money (the step as text), running
    (`after` as text), spread (text), sales (Int64), sales_text, guess (Boolean: no sale stands behind it). The texts
    of a step are null for the start and the total.
    """
    steps = steps_table(appraisal)
    shown = [
        show_words(words, START_WORDS if kind == "start" else CHART_WORDS)
        for words, kind in steps.rows.select("words", "kind").iter_rows()
    ]
    texts = steps.text_columns(percent="factor", running="after", sales_text="sales")
    return (
        steps.rows.with_columns(*texts, pl.Series("words", shown))
        .with_columns(pl.when(pl.col("factor").is_not_null()).then(pl.col("percent", "sales_text")))
        .select(
            *("kind", "words", "before", "after", "low", "high", "percent", "money", "running", "spread"),
            *("sales", "sales_text"),
            guess=(pl.col("sales") == 0).fill_null(value=False),
        )
    )


def comparable_frame(appraisal: Appraisal) -> pl.DataFrame:
    """Return one row a comparable, in the order given (nearest first).

    Columns: row (its number, day and venue), title, venue, sold (day as text), paid, adjusted
    (Float64, base currency), paid_text, adjusted_text, total (all adjustments as one per cent),
    residual (what they leave, as per cent).
    """
    sales = comparables_table(appraisal)
    texts = sales.text_columns(
        sold="sold_on", paid_text="price_paid", adjusted_text="adjusted_price", total="adjustment"
    )
    rows = sales.rows.with_columns(*texts)
    names = [
        f"{number}. {sold}, {venue or f'venue {NOT_KNOWN}'}"
        for number, (sold, venue) in enumerate(rows.select("sold", "venue").iter_rows(), start=1)
    ]
    return rows.select(
        pl.Series("row", [show_words(name, CHART_WORDS) for name in names], pl.String),
        pl.Series("title", [show_words(one, CHART_WORDS) or NO_TITLE for one in rows["title"]], pl.String),
        pl.Series("venue", [show_words(one, CHART_WORDS) for one in rows["venue"]], pl.String),
        "sold",
        *(pl.col("price_paid").alias("paid"), pl.col("adjusted_price").alias("adjusted")),
        *("paid_text", "adjusted_text", "total"),
        pl.Series("residual", [formats.percent_change(one) for one in rows["residual"]], pl.String),
    )
