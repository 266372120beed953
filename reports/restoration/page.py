"""The page of restoring: what to do next in the hours there are, what work gains, and what that rests on."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline import formats
from pipeline.answers import sheet
from pipeline.answers.restoration.answer import RestorationReport
from pipeline.answers.restoration.tables import (
    best_works_table,
    borrowed_words,
    checks_table,
    effects_table,
    gains_table,
    heading,
    left_out_table,
    not_weighed_table,
    plan_table,
    state_checks,
    state_less,
    state_next,
    state_plan,
    typical_grade,
    works_table,
)
from pipeline.untrusted import show_words
from reports.charts.intervals import interval_chart
from reports.facts import cautions_below, source_line, weak_notice
from reports.links import Link
from reports.page import Figure, Table, render_page, spoken

MOST_ROWS = 12
"""No more pairs than this stand in the chart; the table has all."""

_PLANNED = ("pair", "silhouette", "treatments", "hours", "cost", "net_gain", "chance_of_loss")
"""What the page shows of the plan: what fits its column; the ranges stand in the chart under it."""

IN_PLAN = "Plan: "
"""What stands before a pair of the plan in the chart."""

NAME = 80
"""The longest name of a pair or treatment in a chart."""


def restoration_page(report: RestorationReport, *, business: str, links: Sequence[Link] = ()) -> str:
    """Return the HTML page of a restoration report; `business` is the owner's name (untrusted text)."""
    planned = plan_table(report).showing(*_PLANNED)
    tables = (
        planned,
        works_table(report),
        not_weighed_table(report),
        checks_table(report),
        left_out_table(report),
        gains_table(report),
    )
    figures = restoration_figures(report)
    weak = weak_notice(report.weak)
    return render_page(
        "restoration/page.html.j2",
        scripts=("print.js",),
        business=business,
        links=links,
        as_of=formats.day(report.as_of),
        heading=heading(report),
        gain=None if report.plan is None else formats.estimate(report.plan.gain, report.currency),
        sentence=state_plan(report),
        next_words=state_next(report),
        less_words=state_less(report),
        tables={one.key: Table.of(one) for one in tables if one.rows.height},
        figures={figure.key: figure for figure in figures},
        level=formats.level(report.level),
        checks_words=state_checks(report),
        safety=[show_words(caution, 400) for caution in report.safety],
        spread=f"{report.gains.spread:.1f}",
        weak=weak,
        cautions=cautions_below(report.cautions, weak),
        source=report.source,
    )


def restoration_figures(report: RestorationReport) -> tuple[Figure, ...]:
    """Return the figures of the page."""
    return (
        *((_works_figure(report),) if report.works.height else ()),
        *((_effects_figure(report),) if report.effects.height else ()),
    )


def _works_figure(report: RestorationReport) -> Figure:
    best = best_works_table(report)
    names = [
        f"{IN_PLAN if chosen == 'yes' else ''}{show_words(' '.join(dict.fromkeys((pair, model))), NAME)}: "
        f"{show_words(work, NAME)}"
        for chosen, pair, model, work in zip(
            *best.rows.select("chosen", "pair", "silhouette"), best.texts_of("treatments"), strict=True
        )
    ]
    rows = _intervals(report, best, names, "net_gain").head(MOST_ROWS)
    left = best.rows.height - rows.height
    planned = f" {IN_PLAN.strip()} the work of the plan." if (best.rows["chosen"] == "yes").any() else ""
    more = f" {formats.counted(left, 'more pair')} in the table only." if left else ""
    return Figure(
        key="works",
        chart=interval_chart(rows, best.title, f"Net gain after cost ({report.currency})", form="band-80"),
        alternative=f"{best.title}, net: {spoken(rows, '{words} {figure}')}.",
        note=f"Dot: the average gain. Bar: the {formats.level(report.level)} range.{planned}{more}",
        tables=(best,),
        rows=best.rows,
        source=source_line(report),
    )


def _effects_figure(report: RestorationReport) -> Figure:
    grade, effects = typical_grade(report), effects_table(report)
    shown = replace(effects, rows=effects.rows.filter(pl.col("grade") == grade))
    names = [show_words(f"{treatment}, {era}", NAME) for treatment, era, *_ in shown.texts()]
    rows = _intervals(report, shown, names, "total").with_columns(
        (pl.col("middle", "low", "high") - 1) * 100, guess=shown.rows["sales"] == 0
    )
    guessed = " Dashed: no sale has that work in that era." if rows["guess"].any() else ""
    return Figure(
        key="effects",
        chart=interval_chart(
            rows,
            f"Total effect of each treatment, from grade {grade:g}",
            f"Effect on the price of a pair of grade {grade:g} (per cent)",
            form="band-80",
        ),
        alternative=f"Total effect of each treatment on the price of a pair of grade {grade:g}: "
        f"{spoken(rows, '{words} {figure}')}.",
        note=f"Bar: the {formats.level(report.level)} range of the average effect. What a cured defect adds is not "
        f"in it.{guessed}{borrowed_words(report)}",
        tables=(effects,),
        rows=effects.rows,
        source=source_line(report),
    )


def _intervals(report: RestorationReport, table: sheet.Table, names: list[str], key: str) -> pl.DataFrame:
    """Return the rows of an interval chart: a column of a table, with its low and high ends."""
    low, high = f"{key}_low", f"{key}_high"
    ends = zip(table.texts_of(low), table.texts_of(high), strict=True)
    return table.rows.select(
        words=pl.Series(names, dtype=pl.String),
        figure=pl.Series(table.texts_of(key), dtype=pl.String),
        middle=key,
        low=low,
        high=high,
        said=pl.Series(
            [f"{formats.level(report.level)} range: {least} to {most}" for least, most in ends],
            dtype=pl.String,
        ),
    )
