"""The page of restoring: what to do next in the hours there are, what work is worth, and what that rests on."""

from pathlib import Path

import polars as pl

from pipeline import formats
from pipeline.answers.restoration.answer import RestorationReport
from pipeline.answers.restoration.net_gain import LEVEL
from pipeline.untrusted import show_words
from reports.charts.intervals import interval_chart
from reports.facts import source_line
from reports.page import Column, Figure, Table, render_page, tabulate, write_page
from reports.restoration.frames import BORROWED, effect_frame, gain_frame, witness_frame, work_frame

BAND = f"{formats.level(LEVEL)} band"
MOST_ROWS = 12
"""No more pairs than this stand in the chart; the table holds all."""


def restoration_page(report: RestorationReport, *, business: str) -> str:
    """Return the HTML page of a restoration report; `business` is the owner's name (untrusted text)."""
    works = work_frame(report)
    return render_page(
        "restoration/page.html.j2",
        charts=True,
        business=business,
        as_of=formats.day(report.as_of),
        heading="What to restore next" if report.plan is not None else "What restoring does to a price",
        gain=None if report.plan is None else formats.estimate(report.plan.gain, report.currency),
        sentence=state_plan(report),
        next_words=_next_words(report),
        plan_table=_plan_table(works) if report.plan is not None and report.plan.chosen else None,
        works_figure=_works_figure(report, works) if works.height else None,
        works_table=_works_table(works) if works.height else None,
        not_weighed=[(show_words(pair, 120), why) for pair, why in report.not_weighed],
        band=formats.level(report.level),
        effects_figure=_effects_figure(report) if report.effects.height else None,
        witness_words=_witness_words(report),
        left_out=[(formats.count(count), reason) for reason, count in report.left_out.items()],
        witnesses=_witnesses(report) if report.evidence.judged.height else None,
        gains=_gains_table(report) if report.gains.treatments else None,
        safety=[show_words(caution, 400) for caution in report.safety],
        spread=f"{report.gains.spread:.1f}",
        cautions=[show_words(caution, 400) for caution in report.cautions],
        source=report.source,
    )


def restoration_figures(report: RestorationReport) -> tuple[Figure, ...]:
    """Return the figures of the page."""
    works = work_frame(report)
    return (
        *((_works_figure(report, works),) if works.height else ()),
        *((_effects_figure(report),) if report.effects.height else ()),
    )


def write_restoration_page(report: RestorationReport, path: Path, *, business: str) -> Path:
    """Write the page of a restoration report and return its path; raises ReportError where it cannot."""
    return write_page(restoration_page(report, business=business), path)


def state_plan(report: RestorationReport) -> str:
    """Return the answer in a sentence: how many pairs, in how many hours, for what."""
    plan, currency = report.plan, report.currency
    if plan is None:
        return "Give a stock list to have the work on each pair weighed."
    if not plan.chosen:
        return "No work on this stock gains more than it costs, in the hours and money given."
    return (
        f"Work on {formats.counted(len(plan.chosen), 'pair')} should add about {formats.estimate(plan.gain, currency)} "
        f"(± {formats.estimate(plan.error, currency)}) to what the stock is worth, after costs: "
        f"{plan.hours:g} of {plan.hours_given:g} hours, "
        f"{formats.amount(plan.money, currency)} of {formats.amount(plan.money_given, currency)} for materials."
    )


def _next_words(report: RestorationReport) -> str:
    plan, currency = report.plan, report.currency
    if plan is None or not report.works.height:
        return ""
    hour, money = (formats.estimate(worth, currency) for worth in (plan.next_hour, plan.next_money))
    return (
        f"One more hour would add {hour}; {formats.amount(plan.money_step, currency)} more for materials, {money}. "
        "No other choice of work gains more in these hours and this money: every combination is allowed for. But the "
        "best of many estimates is oftener too high than too low."
    )


def _plan_table(works: pl.DataFrame) -> Table:
    return tabulate(
        works.filter(pl.col("chosen")),
        "The work to do",
        {
            "pair": Column("Pair"),
            "work": Column("Work"),
            "gain": Column("Net gain", figures=True),
            "range": Column(BAND, figures=True),
            "loss": Column("Chance of loss", figures=True),
            "hours": Column("Hours", figures=True),
            "cost": Column("Cost", figures=True),
        },
    )


def _works_table(works: pl.DataFrame) -> Table:
    return tabulate(
        works.with_columns(mark=pl.when("chosen").then(pl.lit("yes")).otherwise(pl.lit(""))),
        "Every piece of work",
        {
            "pair": Column("Pair"),
            "work": Column("Work"),
            "mark": Column("In the plan"),
            "hours": Column("Hours", figures=True),
            "cost": Column("Cost", figures=True),
            "before": Column("As it is", figures=True),
            "after": Column("After", figures=True),
            "gain": Column("Net gain", figures=True),
            "range": Column(BAND, figures=True),
            "loss": Column("Chance of loss", figures=True),
            "sale": Column("At one sale", figures=True),
        },
    )


def _works_figure(report: RestorationReport, works: pl.DataFrame) -> Figure:
    best = works.unique("number", keep="first", maintain_order=True)
    rows = best.head(MOST_ROWS).select(
        words=pl.col("pair") + ": " + pl.col("work"),
        figure="gain",
        middle="gain_value",
        low="low_value",
        high="high_value",
        said=pl.lit(f"{formats.level(report.level)} band: ") + pl.col("range"),
    )
    spoken = "; ".join(f"{words} {gain}" for words, gain in rows.select("words", "figure").iter_rows())
    left = best.height - rows.height
    more = f" {formats.counted(left, 'more pair')} in the table." if left else ""
    return Figure(
        key="works",
        chart=interval_chart(
            rows, "The work that gains most on each pair", f"Net gain after cost ({report.currency})", room=90
        ),
        alternative=f"The work that gains most on each pair, net: {spoken}.",
        note=f"Dot: the average gain. Bar: the {formats.level(report.level)} band. The line stands at nought.{more} "
        + source_line(report),
        tables=(
            tabulate(
                best,
                "The work that gains most on each pair",
                {
                    "pair": Column("Pair"),
                    "work": Column("Work"),
                    "gain": Column("Net gain", figures=True),
                    "range": Column(BAND, figures=True),
                    "loss": Column("Chance of loss", figures=True),
                },
            ),
        ),
        rows=best.select("pair", "work", gain="gain_value", low="low_value", high="high_value"),
    )


def _effects_figure(report: RestorationReport) -> Figure:
    grades = sorted(set(report.effects["grade"]))
    shown = grades[len(grades) // 2]
    band = f"{formats.level(report.level)} band: "
    rows = effect_frame(report)
    drawn = rows.filter(pl.col("grade_value") == shown)
    spoken = "; ".join(f"{words} {total}" for words, total in drawn.select("words", "figure").iter_rows())
    borrowed = f" {BORROWED}" if (report.effects["borrowed"] > 0).any() else ""
    return Figure(
        key="effects",
        chart=interval_chart(
            drawn.select("words", "figure", "middle", "low", "high", said=pl.lit(band) + pl.col("range")),
            f"Total effect of each treatment, from grade {shown:g}",
            f"Effect on the price of a pair of grade {shown:g} (per cent)",
            room=90,
        ),
        alternative=f"Total effect of each treatment on the price of a pair of grade {shown:g}: {spoken}.",
        note=f"Bar: the {formats.level(report.level)} band of the average effect. What a cured defect adds comes on "
        f"top.{borrowed} {source_line(report)}",
        tables=(
            tabulate(
                rows,
                "Total effect by treatment, era and grade",
                {
                    "words": Column("Treatment and era"),
                    "grade": Column("From grade", figures=True),
                    "bought": Column("Grade bought", figures=True),
                    "discount": Column("Discount", figures=True),
                    "figure": Column("In total", figures=True),
                    "range": Column(BAND, figures=True),
                    "regression": Column("Regression alone", figures=True),
                    "before_after": Column("Before and after", figures=True),
                    "sales": Column("Sales", figures=True),
                },
            ),
        ),
        rows=rows.select("words", grade="grade_value", percent="middle", low="low", high="high"),
    )


def _witness_words(report: RestorationReport) -> str:
    evidence = report.evidence
    if evidence.why_none:
        return f"The effects rest on the regression alone: {evidence.why_none}."
    return (
        f"Beside {formats.counted(evidence.untouched, 'pair')} sold twice without work between. Both columns are the "
        "change on the very pairs that were restored, the market and the venue allowed for; what was cured is in "
        "them. Each counts by its precision."
    )


def _witnesses(report: RestorationReport) -> Table:
    return tabulate(
        witness_frame(report),
        "Pairs sold before and after, against the regression on the same pairs",
        {
            "treatment": Column("Treatment"),
            "pairs": Column("Pairs", figures=True),
            "before_after": Column("Before and after", figures=True),
            "regression": Column("Regression", figures=True),
            "difference": Column("Difference", figures=True),
            "verdict": Column("They"),
        },
    )


def _gains_table(report: RestorationReport) -> Table:
    return tabulate(
        gain_frame(report),
        "Grades that each treatment buys",
        {
            "treatment": Column("Treatment"),
            "stated": Column("Your figure", figures=True),
            "pairs": Column("Pairs graded twice", figures=True),
            "mean": Column("Reckoned with", figures=True),
        },
    )
