"""What an appraisal says: the answer, the bands, what makes the price, the nearest sales."""

import math
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal, Comparable, Step
from pipeline.answers.appraisal.cautions import Caution, state_weakness, weakness_names
from pipeline.answers.sheet import (
    NONE,
    Column,
    Sheet,
    Table,
    amount,
    count,
    day,
    estimate,
    factor,
    known,
    level,
    source_words,
    table,
    words,
)
from pipeline.market.bands import Band
from pipeline.market.pair import Pair
from pipeline.phrases.phrases import ENGLISH, Phrases
from pipeline.schema import UNKNOWN
from pipeline.untrusted import show_words

Stated = TypeVar("Stated", str, Caution)

MIDDLE = 0.8
"""The level of the band that is stated in words."""

NO_SUPPORT = "none: estimated from similar models"
MOST_NAME = 60
"""The longest name of an attribute that is shown."""

LEAST_PART = 0.0005
"""A part of the second stage that is smaller (as a share of the price) is not named."""

SHORT = {"era": "era", "size": "size_mm", "grade": "grade", "box": "box"}
"""What a list of sales says of each besides its model, by the attribute's factor column."""

NO_TITLE = "(no title)"
NO_VENUE = "(venue not known)"
BAND_WORDS = {0.5: "1 in 2", 0.8: "8 in 10", 0.95: "19 in 20"}

ANSWER = "A pair like this should sell for about {median}, all-in; 8 in 10 sell for between {low} and {high}."
ANSWER_OUTSIDE = (
    "With no sale of its silhouette to go by, the best guess is about {median}, all-in; the 80 % band runs "
    "from {low} to {high}."
)
"""The answer as a dealer would say it, of a pair inside the records and of one outside them."""

STEP_ROWS = {
    "kind": pl.String,
    "words": pl.String,
    "before": pl.Float64,
    "after": pl.Float64,
    "low": pl.Float64,
    "high": pl.Float64,
    "factor": pl.Float64,
    "money": pl.String,
    "spread": pl.String,
    "sales": pl.Int64,
}

PAIR_DETAILS = "All that is to be said of one pair: add `--row` with its number."

NO_BAND_OF_ALL = (
    "The ends of the bands do not add up to a band of all pairs together, since some sell for more and others for "
    "less: `pairband stock FILE` works that band out."
)

NO_PAIR = Sheet("There is no pair in this file.")


def appraisal_sheet(appraisal: Appraisal) -> Sheet:
    """Return the sheet of one appraisal."""
    tables = (
        bands_table(appraisal.bands, appraisal.currency),
        steps_table(appraisal),
        comparables_table(appraisal),
    )
    return Sheet(
        title=f"{pair_name(appraisal.pair)}, valued on {formats.day(appraisal.as_of)}",
        figures=value_figures(appraisal.median, appraisal.bands, appraisal.currency, weak=appraisal.weak),
        sentences=(
            state_answer(appraisal),
            *(() if appraisal.comparables else ("No past sale is near enough to compare with this pair.",)),
        ),
        tables=tuple(one.as_detail() for one in tables),
        warnings=appraisal.cautions,
        source=source_words(appraisal.source),
        weak=state_weakness(appraisal.weak),
    )


def appraisals_sheet(appraisals: Sequence[Appraisal]) -> Sheet:
    """Return the sheet of appraisals of one day: one line a pair, in the order of the file; of one, its own sheet."""
    if not appraisals:
        return NO_PAIR
    if len(appraisals) == 1:
        return appraisal_sheet(appraisals[0])
    first = appraisals[0]
    shared = shared_warnings([appraisal.cautions for appraisal in appraisals])
    all_weak = shared_warnings([appraisal.weak for appraisal in appraisals])
    rows = []
    for number, appraisal in enumerate(appraisals, start=1):
        band = middle_band(appraisal.bands)
        rows.append(
            {
                "row": number,
                "pair": pair_name(appraisal.pair),
                "median": appraisal.median,
                "low": band.low if band else None,
                "high": band.high if band else None,
                "weak": weakness_names(one for one in appraisal.weak if one not in all_weak) or None,
                "unread": ", ".join(one.attribute for one in appraisal.pair.unread) or None,
                "warnings": len(appraisal.cautions) - len(shared),
            }
        )
    together = formats.estimate(sum(one.median for one in appraisals), first.currency)
    said = (words("weak", "Weak"), words("unread", "Not read"))
    return Sheet(
        title=f"{formats.counted(len(appraisals), 'pair')}, valued on {formats.day(first.as_of)}",
        figures=(("Sum of fair values", f"{'about ' if all_weak else ''}{together}"),),
        sentences=(PAIR_DETAILS,),
        tables=(
            table(
                "pairs",
                "Fair value of each pair, all-in",
                (
                    count("row", "Row"),
                    Column("pair", "Pair", short_name, cut=True),
                    estimate("median", "Fair value", first.currency),
                    band_column(first.currency),
                    count("warnings", "Warnings"),
                    *(column for column in said if any(row[column.key] for row in rows)),
                ),
                rows,
                note=NO_BAND_OF_ALL,
            ),
        ),
        warnings=shared,
        source=source_words(first.source),
        weak=state_weakness(all_weak),
    )


def shared_warnings(warnings: Sequence[Sequence[Stated]]) -> tuple[Stated, ...]:
    """Return the warnings that all of several answers have."""
    return tuple(warning for warning in warnings[0] if all(warning in own for own in warnings))


def pair_name(pair: Pair, era: str | None = None) -> str:
    """Return a pair's name on one line; `era` stands where its era is not to be named."""
    return " · ".join(part for part in (pair.label, pair.silhouette, pair.colourway, era or pair.era) if part)


def short_name(name: str) -> str:
    """Return a pair's name without the points between its parts, for a narrow column."""
    return name.replace(" · ", " ")


def value_figures(
    median: float, bands: Sequence[Band], currency: str, *, weak: Sequence[Caution] = ()
) -> tuple[tuple[str, str], ...]:
    """Return the figures that answer what a pair is worth: about what, where the value is `weak`."""
    band = middle_band(bands)
    about = "about " if weak else ""
    return (
        ("Fair value, all-in", f"{about}{formats.estimate(median, currency)}"),
        *(((f"{formats.level(MIDDLE)} band", range_words(band.low, band.high, currency)),) if band else ()),
    )


def state_answer(appraisal: Appraisal) -> str:
    """Return the answer as a dealer would say it: the median, and the 80 % band."""
    band = middle_band(appraisal.bands)
    median = formats.estimate(appraisal.median, appraisal.currency)
    sentence = ANSWER if appraisal.in_support else ANSWER_OUTSIDE
    if band is None:
        return f"{sentence.split(';')[0]}.".format(median=median)
    low, high = (formats.estimate(end, appraisal.currency) for end in (band.low, band.high))
    return sentence.format(median=median, low=low, high=high)


def middle_band(bands: Sequence[Band]) -> Band | None:
    """Return the band of MIDDLE, or None where there is none."""
    return next((band for band in bands if round(band.level, 2) == MIDDLE), None)


def range_words(low: float, high: float, currency: str, locale: str = formats.LANGUAGE) -> str:
    """Return a range of estimated amounts: €1,230 – €2,010."""
    return f"{formats.estimate(low, currency, locale)} – {formats.estimate(high, currency, locale)}"


def band_column(currency: str, language: Phrases = ENGLISH) -> Column:
    """Return the column of the 80 % band of rows that have its ends, `low` and `high`."""

    def written(row: Mapping[str, Any]) -> str:
        return NONE if row["low"] is None else range_words(row["low"], row["high"], currency, language.locale)

    heading = language.say("band_of_level", level=language.level(MIDDLE))
    return Column("band", heading, number=True, describe=written)


def bands_table(bands: Sequence[Band], currency: str) -> Table:
    """Return one row a band, narrowest first: level, words ("8 in 10"), low, high (base currency)."""
    rows = [
        {
            "level": band.level,
            "words": BAND_WORDS.get(band.level, ""),
            "low": band.low,
            "high": band.high,
        }
        for band in sorted(bands, key=lambda band: band.level)
    ]
    schema = {"level": pl.Float64, "words": pl.String, "low": pl.Float64, "high": pl.Float64}
    return table(
        "bands",
        "The bands: how often such a pair sells within them",
        (
            level("level", "Band"),
            words("words", "Sells within"),
            estimate("low", "From", currency),
            estimate("high", "To", currency),
        ),
        pl.DataFrame(rows, schema=schema),
    )


def steps_table(appraisal: Appraisal) -> Table:
    """Return one row a step of the waterfall, a first row for the start and a last for the pair.

    Rows: kind (start, rise, fall, level, total), words (what the row says), before, after (base currency), low, high
    (`after` one standard error of the step either way), factor, money and spread (text), sales (null for start and
    total; 0 where no sale stands behind the step).
    """
    currency, before = appraisal.currency, appraisal.start_price
    rows: list[dict[str, object]] = [
        {"kind": "start", "words": f"Start: {appraisal.start}", "before": before, "after": before}
    ]
    for step in appraisal.steps:
        error = math.exp(step.error)
        rows.append(
            {
                "kind": "rise" if step.factor > 1 else "fall" if step.factor < 1 else "level",
                "words": _step_words(step),
                "before": before,
                "after": step.price_after,
                "low": step.price_after / error,
                "high": step.price_after * error,
                "factor": step.factor,
                "money": formats.change(step.price_after - before, currency, price=before),
                "spread": f"{formats.percent_change(step.factor / error)} to "
                f"{formats.percent_change(step.factor * error)}",
                "sales": step.sales,
            }
        )
        before = step.price_after
    median = appraisal.median
    rows.append({"kind": "total", "words": "This pair", "before": median, "after": median})
    return table(
        "steps",
        "What makes the price, step by step",
        (
            words("words", "Step"),
            factor("factor", "Effect"),
            Column("money", "In money", number=True),
            estimate("after", "Price after", currency),
            Column("spread", "± 1 standard error", number=True),
            count("sales", "Sales"),
        ),
        pl.DataFrame(rows, schema=STEP_ROWS),
    )


def support_table(appraisal: Appraisal) -> Table:
    """Return one row a step: how many sales of any model share the value, and what is said where none does."""
    rows = [
        {"words": _step_words(step), "sales": step.sales, "support": "" if step.sales else NO_SUPPORT}
        for step in appraisal.steps
    ]
    columns = (words("words", "Attribute"), count("sales", "Sales of any model"), words("support", "Remark"))
    return table(
        "support",
        "Sales behind each attribute",
        columns if any(row["support"] for row in rows) else columns[:2],
        rows,
    )


def comparables_table(appraisal: Appraisal) -> Table:
    """Return one row a comparable, nearest first.

    Rows: what was sold (model, era, size, grade, box; of the model only the colourway where the silhouette is the
    pair's), title, venue, sold_on, price_paid, adjustment (all adjustments as one factor), adjusted_price, and what
    they leave unexplained (`residual`, a factor).
    """
    rows = [
        {
            "model": _model(sale, appraisal.pair),
            **{key: _stated(sale, name) for key, name in SHORT.items()},
            "title": sale.title or NO_TITLE,
            "venue": sale.venue,
            "sold_on": sale.sold_on,
            "price_paid": sale.price_paid,
            "adjustment": sale.adjusted_price / sale.price_paid,
            "adjusted_price": sale.adjusted_price,
            "residual": math.exp(sale.residual),
        }
        for sale in appraisal.comparables
    ]
    schema = (
        dict.fromkeys(("model", *SHORT, "title", "venue"), pl.String)
        | {"sold_on": pl.Date}
        | dict.fromkeys(("price_paid", "adjustment", "adjusted_price", "residual"), pl.Float64)
    )
    return table(
        "comparables",
        "The nearest sales, adjusted to this pair",
        (
            day("sold_on", "Sold on"),
            words("model", "Model"),
            words("era", "Era"),
            words("size", "Size"),
            words("grade", "Grade"),
            words("box", "Box"),
            amount("price_paid", "Paid", appraisal.currency),
            estimate("adjusted_price", "Adjusted", appraisal.currency),
            factor("adjustment", "By"),
            Column("venue", "Venue", lambda venue: venue or NO_VENUE),
        ),
        pl.DataFrame(rows, schema=schema),
    )


def sale_name(sale: Comparable, pair: Pair) -> str:
    """Return what was sold in a few words; its title where no attribute is known."""
    parts = [_model(sale, pair), *(_stated(sale, name) for name in SHORT.values())]
    called = ("", "", "", "grade ", "box ")
    named = " · ".join(f"{word}{part}" for word, part in zip(called, parts, strict=True) if part)
    return named or sale.title or NO_TITLE


def _model(sale: Comparable, pair: Pair) -> str | None:
    """Return the colourway of a sale, and its silhouette where that is not the pair's or the colourway not known."""
    silhouette, colourway = (_stated(sale, name) for name in ("silhouette", "colourway"))
    shown = (None if silhouette == pair.silhouette and colourway else silhouette, colourway)
    return " ".join(part for part in shown if part) or None


def _stated(sale: Comparable, name: str) -> str | None:
    """Return an attribute of a sale as people read it, or None where it is not known."""
    value = sale.attributes.get(name, UNKNOWN)
    return None if value == UNKNOWN else show_words(value, MOST_NAME)


def adjustments_table(comparable: Comparable) -> Table:
    """Return one row an adjustment of a comparable: attribute, its value, the pair's value, factor."""
    rows = [
        {
            "attribute": _capital(line.attribute),
            "comparable": known(line.comparable_value),
            "subject": known(line.subject_value),
            "factor": line.factor,
        }
        for line in comparable.adjustments
    ]
    return table(
        "adjustments",
        "How it is adjusted to this pair",
        (
            words("attribute", "Attribute"),
            words("comparable", "This sale"),
            words("subject", "The pair"),
            factor("factor", "Adjusts by"),
        ),
        rows,
    )


def _step_words(step: Step) -> str:
    stated = f"{_capital(step.attribute)}: {known(step.value)}"
    if step.parts:
        stated = f"{stated} ({_parts_words(step.parts)})"
    return stated if step.sales else f"{stated} (no sale)"


def _parts_words(parts: Sequence[tuple[str, float]]) -> str:
    """Return what each attribute adds, the largest first; those of less than LEAST_PART are left out."""
    named = sorted(
        (part for part in parts if abs(part[1] - 1) >= LEAST_PART), key=lambda part: -abs(math.log(part[1]))
    )
    said = [f"{name or 'in every pair'} {formats.percent_change(factor)}" for name, factor in named]
    return ", ".join(said) or "next to nothing each"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
