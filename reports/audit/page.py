"""The page of an audit: whether values and bands held up on sales that came after them."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline import __version__, formats
from pipeline.answers.audit.figures import Audit, CoverageRow
from pipeline.answers.audit.tables import (
    LEVEL,
    OUTCOMES,
    SURE,
    VERDICTS,
    audit_sheet,
    coverage_group,
    held_text,
    state_audit,
)
from pipeline.answers.audit.words import NO_BANDS
from pipeline.answers.sheet import Sheet
from pipeline.untrusted import show_sentences
from reports.charts.intervals import interval_chart
from reports.links import Link
from reports.page import Figure, Table, render_page, spoken

PLACES = {
    "ratios": "Ratio study",
    "errors": "Errors left",
    "influential": "Influential sales",
    "support": "Sales behind it",
}
"""The tables of the page that may be empty, and what a jump to each is called."""


def audit_page(audit: Audit, *, business: str, links: Sequence[Link] = ()) -> str:
    """Return the HTML page of an audit; `business` is the owner's name (untrusted text)."""
    sheet = audit_sheet(audit)
    return render_page(
        "audit/page.html.j2",
        business=business,
        links=links,
        as_of=formats.day(audit.as_of),
        outcome=OUTCOMES[audit.verdict.outcome],
        notice=audit.verdict.outcome in ("too narrow", "unproven"),
        words=state_audit(audit),
        bands_figure=_bands_figure(audit, sheet) if audit.coverages else None,
        bands_words=sheet.table("bands").note if audit.coverages else NO_BANDS,
        places=_places(sheet, failed=bool(audit.failed_origins)),
        tables={
            key: Table.of(sheet.table(key))
            for key in ("pricers", "ratios", "errors", "influential", "support")
        },
        failed=[show_sentences(line) for line in audit.failed_origins],
        audit=audit,
        version=__version__,
    )


def _places(sheet: Sheet, *, failed: bool) -> list[tuple[str, str]]:
    """Return where the page can be jumped to, each with what it is called."""
    filled = [(key, words) for key, words in PLACES.items() if not sheet.table(key).rows.is_empty()]
    days = [("failed", "Days without a fit")] if failed else []
    return [("bands", "Bands"), ("pricers", "Accuracy"), *filled, *days, ("source", "Sources")]


def audit_figures(audit: Audit) -> tuple[Figure, ...]:
    """Return the figures of the page."""
    return (_bands_figure(audit, audit_sheet(audit)),) if audit.coverages else ()


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
    texts = ("words", "figure", "said", "group", "level", "sales")
    numbers = ("middle", "low", "high")
    return pl.DataFrame(
        [_coverage_row(row) for row in rows],
        schema={**dict.fromkeys(texts, pl.String), **dict.fromkeys(numbers, pl.Float64)},
    )


def _coverage_row(row: CoverageRow) -> dict[str, object]:
    found = row.coverage
    claimed, group = formats.level(found.level), coverage_group(row)
    points, half = 100 * (found.covered - found.level), 100 * SURE * found.error
    return {
        "words": f"{claimed} band, {group}",
        "figure": f"{held_text(found.covered)} held",
        "said": f"{formats.counted(found.sales, 'later sale')}, {VERDICTS[row.verdict]}",
        "group": group,
        "level": claimed,
        "sales": formats.count(found.sales),
        "middle": round(points, 4),
        "low": round(points - half, 4),
        "high": round(points + half, 4),
    }


def _bands_figure(audit: Audit, sheet: Sheet) -> Figure:
    rows, bands = coverage_frame(audit), sheet.table("bands")
    in_words = spoken(rows, "{words}: {figure}")
    return Figure(
        key="bands",
        chart=interval_chart(rows, bands.title, "Points above what the band claims", form="band-95"),
        alternative=f"{bands.title}: {in_words}.",
        note="The zero line is what the band claims; the outlined bar is the 95 % interval.",
        tables=(replace(bands, note=""),),
        rows=rows.select("group", "level", "sales", points_above="middle", low="low", high="high"),
        source=f"{formats.counted(audit.priced, 'sale')} priced from earlier months alone, "
        f"as of {formats.day(audit.as_of)}.",
    )
