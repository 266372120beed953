"""The page of an audit: whether values and bands kept their word on sales that came after them."""

from pathlib import Path

import polars as pl

from pipeline import __version__, formats
from pipeline.answers.audit.figures import Audit, CoverageRow
from pipeline.answers.audit.figures import Figure as AuditFigure
from pipeline.answers.audit.words import NO_BANDS
from pipeline.hedonic.accuracy import Margin
from pipeline.untrusted import show_words
from reports.charts.intervals import interval_chart
from reports.page import Column, Figure, Table, render_page, tabulate, write_page

SURE = 1.96
LEVEL = 0.8
OUTCOMES = {
    "kept": "The bands kept their word",
    "broken": "The bands did not keep their word",
    "wide": "The bands are wider than they need be",
    "unproven": "The bands are not proven",
}
VERDICTS = {
    "kept": "as claimed",
    "broken": "holds too few",
    "wide": "holds more",
    "unproven": "too few to judge",
}
MOST_WORDS = 400
NOTHING = "–"
LEAST = 0.001
"""Plain figures below this (a chance, say) are told as being under it."""


def audit_page(audit: Audit, *, business: str) -> str:
    """Return the HTML page of an audit; `business` is the owner's name (untrusted text)."""
    return render_page(
        "audit/page.html.j2",
        charts=True,
        business=business,
        as_of=formats.day(audit.as_of),
        outcome=OUTCOMES[audit.verdict.outcome],
        broken=audit.verdict.outcome in ("broken", "unproven"),
        words=state_audit(audit),
        bands_figure=_bands_figure(audit) if audit.coverages else None,
        no_bands=NO_BANDS,
        pricers=_pricer_table(audit) if audit.priced else None,
        pricer_words=[show_words(pricer.words, MOST_WORDS) for pricer in audit.pricers],
        ratios=_figure_table("The ratio study", audit.ratios) if audit.ratios else None,
        ratio_words=_words_of(audit.ratios),
        errors=_figure_table("The errors that are left", audit.errors) if audit.errors else None,
        error_words=_words_of(audit.errors),
        second_stage=show_words(audit.second_stage_words, MOST_WORDS),
        influential=_influential_table(audit) if audit.influential else None,
        support=_support_table(audit) if audit.support else None,
        failed=[show_words(line, MOST_WORDS) for line in audit.failed_origins],
        audit=audit,
        version=__version__,
    )


def audit_figures(audit: Audit) -> tuple[Figure, ...]:
    """Return the figures of the page."""
    return (_bands_figure(audit),) if audit.coverages else ()


def write_audit(audit: Audit, path: Path, *, business: str) -> Path:
    """Write the page of an audit and return its path; raises ReportError where it cannot."""
    return write_page(audit_page(audit, business=business), path)


def state_audit(audit: Audit) -> str:
    """Return the verdict of an audit in a sentence or two."""
    return show_words(audit.verdict.words, MOST_WORDS)


def coverage_frame(audit: Audit) -> pl.DataFrame:
    """Return one row a band level, then one a group at 80 %, as `interval_chart` reads it.

    middle, low and high are points above what the band claims, with the 95 % interval.
    """
    rows = [row for row in audit.coverages if row.kind == "all"]
    rows += [
        row
        for row in audit.coverages
        if row.kind != "all" and round(row.coverage.level, 2) == LEVEL and row.coverage.sales
    ]
    texts = ("words", "figure", "said", "group", "level", "sales", "held", "error", "width", "verdict")
    numbers = ("middle", "low", "high")
    return pl.DataFrame(
        [_coverage_row(row) for row in rows],
        schema={**dict.fromkeys(texts, pl.String), **dict.fromkeys(numbers, pl.Float64)},
    )


def _coverage_row(row: CoverageRow) -> dict[str, object]:
    found = row.coverage
    claimed = formats.level(found.level)
    group = "all sales" if row.kind == "all" else f"{row.kind} {show_words(row.group, 60)}"
    points, half = 100 * (found.held - found.level), 100 * SURE * found.error
    return {
        "words": f"{claimed} band, {group}",
        "figure": f"{100 * found.held:.1f} % held",
        "said": f"{formats.counted(found.sales, 'later sale')}, {VERDICTS[row.verdict]}",
        "group": group,
        "level": claimed,
        "sales": formats.count(found.sales),
        "held": f"{100 * found.held:.1f} %",
        "error": f"{half:.1f}",
        "width": formats.level(found.width),
        "verdict": VERDICTS[row.verdict],
        "middle": round(points, 4),
        "low": round(points - half, 4),
        "high": round(points + half, 4),
    }


def _bands_figure(audit: Audit) -> Figure:
    rows = coverage_frame(audit)
    spoken = "; ".join(f"{words}: {figure}" for words, figure in rows.select("words", "figure").iter_rows())
    return Figure(
        key="bands",
        chart=interval_chart(
            rows, "What the bands held of later sales", "Points above what the band claims", room=100
        ),
        alternative=f"What the bands held of sales that came after them: {spoken}.",
        note="The line at nought is what the band claims; the bar is the 95 % interval. "
        f"{formats.counted(audit.priced, 'sale')} priced from earlier months alone, as of {formats.day(audit.as_of)}.",
        tables=(
            tabulate(
                rows,
                "What the bands held of later sales",
                {
                    "level": Column("Band"),
                    "group": Column("Of"),
                    "sales": Column("Sales", figures=True),
                    "held": Column("Held", figures=True),
                    "error": Column("± 95 %, points", figures=True),
                    "width": Column("Mean width of the value", figures=True),
                    "verdict": Column("Verdict"),
                },
            ),
        ),
        rows=rows.select("group", "level", "sales", points_above="middle", low="low", high="high"),
    )


def _pricer_table(audit: Audit) -> Table:
    headings = (
        Column("Priced by"),
        Column("Sales", figures=True),
        Column("Median error", figures=True),
        Column("Within 10 %", figures=True),
        Column("Within 20 %", figures=True),
        Column("pairband is nearer by, points", figures=True),
    )
    return Table(
        "Accuracy on later sales",
        headings,
        tuple(
            (
                show_words(pricer.name, 60),
                formats.count(pricer.accuracy.sales),
                f"{100 * pricer.accuracy.mdape:.1f} %",
                f"{100 * pricer.accuracy.within_10:.0f} %",
                f"{100 * pricer.accuracy.within_20:.0f} %",
                _ahead(pricer.margin),
            )
            for pricer in audit.pricers
        ),
    )


def _ahead(margin: Margin | None) -> str:
    if margin is None:
        return NOTHING
    value, low, high = (100 * part for part in (margin.value, margin.low, margin.high))
    return f"{value:.1f} ({low:.1f} to {high:.1f})".replace("-", formats.MINUS)


def _figure_table(caption: str, shown: tuple[AuditFigure, ...]) -> Table:
    """Return the figures with those of their columns that any of them fills."""
    columns: list[tuple[Column, list[str]]] = [
        (Column("Figure"), [show_words(one.name, 80) for one in shown]),
        (Column("Value", figures=True), [_number(one.value, one.unit) for one in shown]),
        (Column("95 % interval", figures=True), [_span(one.low, one.high, unit=one.unit) for one in shown]),
        (
            Column("Wanted", figures=True),
            [NOTHING if one.wanted is None else _span(*one.wanted, unit=one.unit) for one in shown],
        ),
        (
            Column("Exact values would show", figures=True),
            [NOTHING if one.by_scatter is None else _number(one.by_scatter, one.unit) for one in shown],
        ),
        (Column("Verdict"), [one.verdict or NOTHING for one in shown]),
    ]
    filled = [(column, texts) for column, texts in columns if set(texts) != {NOTHING}]
    return Table(
        caption,
        tuple(column for column, _ in filled),
        tuple(zip(*(texts for _, texts in filled), strict=True)),
    )


def _span(low: float | None, high: float | None, *, unit: str) -> str:
    return NOTHING if low is None or high is None else f"{_number(low, unit)} to {_number(high, unit)}"


def _number(value: float, unit: str) -> str:
    if unit:
        return f"{value:.1f}\u00a0%".replace("-", formats.MINUS)
    if 0 <= value < LEAST:
        return f"under {LEAST}"
    return f"{value:.3g}".replace("-", formats.MINUS)


def _words_of(shown: tuple[AuditFigure, ...]) -> list[tuple[str, str]]:
    return [(show_words(one.name, 80), show_words(one.words, MOST_WORDS)) for one in shown if one.words]


def _influential_table(audit: Audit) -> Table:
    headings = (
        Column("Sale"),
        Column("Venue"),
        Column("Sold", figures=True),
        Column("Paid", figures=True),
        Column("Times fair", figures=True),
        Column("Moves its own value", figures=True),
    )
    return Table(
        "The sales that pull most",
        headings,
        tuple(
            (
                show_words(sale.title, 120) or "(no title)",
                show_words(sale.venue, 80),
                formats.day(sale.sold_on),
                formats.amount(sale.price_paid, audit.currency),
                f"{sale.times_fair:.2f}",
                formats.share(sale.pull),
            )
            for sale in audit.influential
        ),
    )


def _support_table(audit: Audit) -> Table:
    eras = tuple(dict.fromkeys(cell.era for cell in audit.support))
    counts = {(cell.silhouette, cell.era): cell.sales for cell in audit.support}
    silhouettes = tuple(dict.fromkeys(cell.silhouette for cell in audit.support))
    return Table(
        "Sales behind each silhouette and era",
        (Column("Silhouette"), *(Column(show_words(era, 60), figures=True) for era in eras)),
        tuple(
            (
                show_words(silhouette, 90),
                *(formats.count(counts.get((silhouette, era), 0)) for era in eras),
            )
            for silhouette in silhouettes
        ),
    )
