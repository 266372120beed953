"""The audit in sentences and tables."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline import __version__, formats
from pipeline.answers.audit.figures import Audit, CoverageRow, Figure
from pipeline.answers.audit.words import NO_BANDS, of_sample, of_unbanded
from pipeline.answers.sheet import (
    NONE,
    Column,
    Detail,
    Sheet,
    Table,
    amount,
    count,
    day,
    decimal,
    known,
    level,
    share,
    table,
    words,
)
from pipeline.hedonic.accuracy import Margin
from pipeline.untrusted import show_sentences, show_words

SURE = 1.96
LEVEL = 0.8
"""The level of the bands by which groups are compared first."""

ALL_SALES = "all sales"
LEAST = 0.001
"""Plain figures below this (a chance, say) are written as being under it."""

OUTCOMES = {
    "held up": "The bands held up",
    "too narrow": "The bands are too narrow",
    "too wide": "The bands are wider than they need be",
    "unproven": "The bands are not proven",
}
VERDICTS = {
    "held up": "as claimed",
    "too narrow": "holds too few",
    "too wide": "holds more",
    "unproven": "too few to judge",
}


def audit_sheet(audit: Audit) -> Sheet:
    """Return the sheet of an audit: the verdict, bands, accuracy, ratios, errors and the most influential sales."""
    bands, pricers = _bands(audit), _pricers(audit)
    failed = bands.rows.filter((pl.col("group") == ALL_SALES) | (pl.col("verdict") != VERDICTS["held up"]))
    details = (
        bands,
        _figures("ratios", "The ratio study: value ÷ price", audit.ratios),
        _figures(
            "errors",
            "The errors that are left",
            audit.errors,
            " ".join(filter(None, (audit.second_stage_words, *audit.interactions_words, audit.trend_words))),
        ),
        _influential(audit),
        _support(audit),
    )
    return Sheet(
        title=f"The audit at {formats.day(audit.as_of)}",
        sentences=(state_audit(audit), *(() if audit.coverages else (NO_BANDS,))),
        tables=(
            replace(
                bands,
                key="verdicts",
                title=f"{bands.title}; of groups, those that are not as claimed",
                rows=failed,
                brief=True,
            ),
            replace(pricers, note=Detail(pricers.note)),
            *(one.as_detail() for one in details),
        ),
        warnings=audit.failed_origins,
        source=f"{audit.priced:,} of {audit.sales:,} sales priced from earlier months alone, "
        f"at {formats.counted(audit.origins, 'day')} of refit; pairband {__version__}.",
    )


def state_audit(audit: Audit) -> str:
    """Return the verdict of an audit in a sentence or two."""
    return show_sentences(" ".join((audit.verdict.words, *of_sample(audit.sales))))


def coverage_group(row: CoverageRow) -> str:
    """Return the group of sales of a row of coverage: all sales, era first."""
    return ALL_SALES if row.kind == "all" else f"{row.kind} {known(show_words(row.group, 60))}"


def held_text(held: float) -> str:
    """Return the share of later sales that a band held: 79.0 %."""
    return f"{100 * held:.1f} %"


def _bands(audit: Audit) -> Table:
    """Return every band and group: all sales first, then the groups at LEVEL, then at the other levels."""
    ordered = sorted(
        audit.coverages, key=lambda row: (row.kind != "all", round(row.coverage.level, 2) != LEVEL)
    )
    return table(
        "bands",
        "Share of later sales that the bands held",
        (
            level("level", "Band"),
            words("group", "Of"),
            count("sales", "Sales"),
            Column("covered", "Held", held_text, number=True),
            decimal("error", "± 95 %, points", 1),
            level("width", "Mean width"),
            words("verdict", "Verdict"),
        ),
        [
            {
                **vars(row.coverage),
                "group": coverage_group(row),
                "error": 100 * SURE * row.coverage.error,
                "verdict": VERDICTS[row.verdict],
            }
            for row in ordered
        ],
        note=of_unbanded(audit.priced, max(row.coverage.sales for row in audit.coverages))
        if audit.coverages
        else "",
    )


def _pricers(audit: Audit) -> Table:
    return table(
        "pricers",
        "Accuracy on later sales",
        (
            words("pricer", "Priced by"),
            count("sales", "Sales"),
            Column("mdape", "Median error", held_text, number=True),
            level("within_10", "Within 10 %"),
            level("within_20", "Within 20 %"),
            Column("margin", "pairband is nearer by, points", number=True),
        ),
        [
            {
                "pricer": pricer.name,
                **vars(pricer.accuracy),
                "margin": None if pricer.margin is None else _margin_text(pricer.margin),
            }
            for pricer in audit.pricers
            if pricer.accuracy.sales
        ],
        note="\n".join(f"{pricer.name}: {pricer.words}" for pricer in audit.pricers),
    )


def _margin_text(margin: Margin) -> str:
    value, low, high = (100 * part for part in (margin.value, margin.low, margin.high))
    return f"{value:.1f} ({low:.1f} to {high:.1f})".replace("-", formats.MINUS)


def _figures(key: str, title: str, figures: Sequence[Figure], more: str = "") -> Table:
    """Return figures, with those of their columns that any of them fills, and under them what each means."""
    rows = [
        {
            "name": one.name,
            "value": _number(one.value, one.unit),
            "interval": _span(one.low, one.high, one.unit),
            "wanted": None if one.wanted is None else _span(*one.wanted, one.unit),
            "by_scatter": None if one.by_scatter is None else _number(one.by_scatter, one.unit),
            "verdict": one.verdict or None,
        }
        for one in figures
    ]
    columns = (
        words("name", "Figure"),
        Column("value", "Value", number=True),
        Column("interval", "95 % interval", number=True),
        Column("wanted", "Wanted", number=True),
        Column("by_scatter", "Exact values would show", number=True),
        words("verdict", "Verdict"),
    )
    filled = [column for column in columns if any(row[column.key] is not None for row in rows)]
    meanings = [f"{one.name}: {one.words}" for one in figures if one.words]
    if any(one.verdict == "scatter alone" for one in figures):
        meanings.append(
            "scatter alone: outside the range, but exact values would show as much. No fault of the values."
        )
    return table(key, title, filled, rows, note="\n".join((*meanings, *filter(None, (more,)))))


def _span(low: float | None, high: float | None, unit: str) -> str | None:
    return None if low is None or high is None else f"{_number(low, unit)} to {_number(high, unit)}"


def _number(value: float, unit: str) -> str:
    if unit:
        return f"{value:.1f}\u00a0%".replace("-", formats.MINUS)
    if 0 <= value < LEAST:
        return f"under {LEAST}"
    return f"{value:.3g}".replace("-", formats.MINUS)


def _influential(audit: Audit) -> Table:
    return table(
        "influential",
        "The most influential sales",
        (
            Column("title", "Sale", lambda title: show_words(title, 120) or "(no title)"),
            words("venue", "Venue"),
            day("sold_on", "Sold on"),
            amount("price_paid", "Paid", audit.currency),
            decimal("price_to_value", "Price ÷ value", 2),
            share("pull", "Moves its own value"),
        ),
        list(map(vars, audit.influential)),
    )


def _support(audit: Audit) -> Table:
    eras = tuple(dict.fromkeys(cell.era for cell in audit.support))
    counts = {(cell.silhouette, cell.era): cell.sales for cell in audit.support}
    silhouettes = dict.fromkeys(cell.silhouette for cell in audit.support)
    keys = {era: f"era {number}" for number, era in enumerate(eras)}
    return table(
        "support",
        "Sales behind each silhouette and era",
        (words("silhouette", "Silhouette"), *(count(keys[era], show_words(era, 60) or NONE) for era in eras)),
        [
            {
                "silhouette": silhouette,
                **{keys[era]: counts.get((silhouette, era), 0) for era in eras},
            }
            for silhouette in silhouettes
        ],
    )
