"""What restoring does and what to restore next, in words and tables, and as one document."""

from dataclasses import replace
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import explain_marks, marked_name, state_weakness
from pipeline.answers.restoration.answer import RestorationReport
from pipeline.answers.sheet import (
    Brief,
    Column,
    Detail,
    Sheet,
    Table,
    amount,
    change,
    count,
    decimal,
    estimate,
    factor,
    source_words,
    table,
    words,
)
from pipeline.hedonic.distributions import student_quantile
from pipeline.untrusted import show_words

WITHIN_ITS_ERROR = (
    " That is less than its own standard error: these records cannot tell whether the work pays."
)
"""What is said of a plan whose gain is within one standard error of zero."""

CERTAIN = 0.005
"""A chance nearer than this to 0 or 1 is not written as a number."""


SAFETY_NOTES = (
    "Solvents, peroxide, ultraviolet light, blades and dust hurt people: wear gloves, eye protection and a mask, "
    "work in a well-ventilated room, and follow the safety sheets and local rules. Practise on a worthless pair "
    "first: most of this work cannot be undone. Read the safety notes with `--details` before you begin."
)


def restoration_sheet(report: RestorationReport) -> Sheet:
    """Return the sheet of a restoration report: the plan, then the effects, then what they rest on."""
    plan, effects = report.plan, effects_table(report)
    typical = effects.showing(
        "treatment", "era", "grades_gained", "total", "total_low", "total_high", "sales"
    )
    return Sheet(
        title=f"{heading(report)}, valued on {formats.day(report.as_of)}",
        figures=(("net gain of the plan", plan_gain(report)),) if plan is not None and plan.chosen else (),
        sentences=tuple(filter(None, (state_plan(report), state_next(report), Detail(state_less(report))))),
        tables=(
            plan_table(report),
            replace(
                typical,
                title=f"{effects.title}, from grade {typical_grade(report):g}",
                rows=typical.rows.filter(pl.col("grade") == typical_grade(report)),
                detail=plan is not None,
            ),
            checks_table(report).as_detail(),
            best_works_table(report).as_detail(),
            not_weighed_table(report).as_detail(),
        ),
        warnings=(Brief(SAFETY_NOTES), *map(Detail, report.safety), *report.cautions),
        source=source_words(report.source),
        weak=state_weakness(report.weak),
    )


def heading(report: RestorationReport) -> str:
    """Return what the report answers."""
    return "What restoring does to a price" if report.plan is None else "What to restore next"


def state_plan(report: RestorationReport) -> str:
    """Return the answer in a sentence: how many pairs, in how many hours, for what."""
    plan, currency = report.plan, report.currency
    if plan is None:
        return "Give a stock list to see what work on each pair would gain."
    if not plan.chosen:
        return "No work on this stock gains more than it costs, in the hours and money given."
    return (
        f"Work on {formats.counted(len(plan.chosen), 'pair')} should add about {plan_gain(report)} (one standard "
        f"error) to the value of the stock, after costs: {plan.hours:g} of {plan.hours_given:g} hours, "
        f"{formats.amount(plan.money, currency)} of {formats.amount(plan.money_given, currency)} for materials."
        + (WITHIN_ITS_ERROR if plan.gain < plan.error else "")
    )


def _hours(hours: float) -> str:
    return f"{hours:g} {'hour' if hours == 1 else 'hours'}"


def plan_gain(report: RestorationReport) -> str:
    """Return the net gain of the plan with its standard error: €820 ± €140."""
    if report.plan is None:
        return ""
    gain, error = (
        formats.estimate(value, report.currency) for value in (report.plan.gain, report.plan.error)
    )
    return f"{gain} ± {error}"


def state_next(report: RestorationReport) -> str:
    """Return what more hours or money would add, and how far to trust the plan; "" without a plan."""
    plan, currency = report.plan, report.currency
    if plan is None or not report.works.height:
        return ""
    more = []
    if plan.more_hours is not None:
        gain = formats.estimate(plan.more_hours.gain, currency)
        more.append(f"The next gain takes {_hours(plan.more_hours.more)} more: it would add {gain}.")
    if plan.more_money is not None:
        spent, gain = (
            formats.estimate(value, currency) for value in (plan.more_money.more, plan.more_money.gain)
        )
        more.append(f"In the same hours, {spent} more for materials would add {gain}.")
    return (
        f"{' '.join(more) or 'More hours or money would add next to nothing.'} "
        "Every combination of work was tried: none gains more in these hours and this money. But the best of many "
        "estimates is more often too high than too low."
    )


def state_checks(report: RestorationReport) -> str:
    """Return what the effects rest on."""
    evidence = report.evidence
    if evidence.why_none:
        return f"The effects rest on the regression alone: {evidence.why_none}."
    return (
        f"{formats.counted(evidence.untouched, 'pair')} sold twice without work in between show what reselling alone "
        "does. Both columns are the change on the same restored pairs, adjusted for the market and the venue, and "
        "include the defects that were cured. Each counts by its precision."
    )


def works_table(report: RestorationReport) -> Table:
    """Return every piece of work that was weighed, the best first; its rows are those of the CSV.

    Money is in the base currency; low and high are the ends of the range of `report.level`.
    """
    currency = report.currency
    chosen = set(_chosen(report))
    rows = report.works.select(
        pl.Series("chosen", ["yes" if row in chosen else "no" for row in range(report.works.height)]),
        pl.col("label").alias("pair"),
        "silhouette",
        pl.col("treatments").list.join("; "),
        pl.col("cures").list.join("; "),
        "hours",
        "materials",
        "cost",
        "price_before",
        "price_after",
        "grade_after",
        pl.col("gain").alias("net_gain"),
        pl.col("low").alias("net_gain_low"),
        pl.col("high").alias("net_gain_high"),
        "chance_of_loss",
        "chance_at_sale",
        "weak",
        pl.lit(currency).alias("currency"),
    ).with_columns(pl.col(pl.Float64).round(4))
    return table(
        "works",
        "Every piece of work",
        (
            words("chosen", "In plan"),
            Column("pair", "Pair", describe=marked_name),
            words("silhouette", "Model"),
            Column("treatments", "Work", lambda names: names.replace("; ", " + ")),
            Column("hours", "Hours", "{:g}".format, number=True),
            amount("cost", "Cost", currency),
            estimate("price_before", "Fair value there, as it is", currency),
            estimate("price_after", "Fair value there, after", currency),
            change("net_gain", "Net gain", currency),
            change("net_gain_low", "Low", currency),
            change("net_gain_high", "High", currency),
            Column("chance_of_loss", "Chance that it does not pay", chance_text, number=True),
            Column("chance_at_sale", "Chance that one sale does not pay", chance_text, number=True),
        ),
        rows,
        note="There: at the venue of the stock list's map, or that of `--venue`. Low to high: the "
        f"{formats.level(report.level)} range of the net gain. It pays if it adds "
        "more to the fair value than it costs; one sale pays if it brings more than the fair value as it is and the "
        "cost.",
    )


def plan_table(report: RestorationReport) -> Table:
    """Return the work of the plan, with what it comes to under it."""
    works, plan = works_table(report), report.plan
    chosen = works.showing(
        *("pair", "silhouette", "treatments", "hours", "cost", "net_gain", "net_gain_low", "net_gain_high"),
        "chance_of_loss",
    )
    total = ""
    if plan is not None:
        cost = formats.amount(float(report.works[list(plan.chosen)]["cost"].sum()), report.currency)
        total = (
            f"Total: {plan.hours:g} hours, cost {cost}, net gain {plan_gain(report)} (one standard error)."
        )
    rows = works.rows.filter(pl.col("chosen") == "yes")
    note = f"{total}{explain_marks(rows)}"
    return replace(chosen, key="plan", title="The work to do", rows=rows, note=note)


def best_works_table(report: RestorationReport) -> Table:
    """Return the work of the plan on each of its pairs, then the work that gains most on each other pair."""
    works = works_table(report)
    listed = report.works.with_row_index().select(
        "index", "pair", planned=pl.col("index").is_in(_chosen(report))
    )
    ordered = listed.sort("planned", descending=True, maintain_order=True)
    first = ordered.unique("pair", keep="first", maintain_order=True)["index"]
    shown = works.showing(
        *("pair", "treatments", "hours", "cost", "net_gain", "net_gain_low", "net_gain_high"),
        *("chance_of_loss", "chosen"),
    )
    rows = works.rows[first.to_list()]
    marks = explain_marks(rows).strip()
    return replace(
        shown,
        key="best",
        title="The work on each pair: the plan's, else what gains most",
        rows=rows,
        note=f"{works.note} {marks}" if marks else Detail(works.note),
    )


def state_less(report: RestorationReport) -> str:
    """Return on which pairs the plan does less than would gain most on them alone, and why; "" where on none."""
    chosen = _chosen(report)
    best = report.works.with_row_index().unique("pair", keep="first", maintain_order=True)
    less = report.works.with_row_index().filter(
        pl.col("index").is_in(chosen) & ~pl.col("index").is_in(best["index"].implode())
    )
    if not less.height:
        return ""
    names = ", ".join(show_words(label, 60) for label in less["label"])
    return (
        f"On {names} the plan does less than would gain most on that pair alone: in the hours and money given, the "
        "rest gains more on other pairs."
    )


def _chosen(report: RestorationReport) -> list[int]:
    """Return the rows of the works that are in the plan."""
    return list(report.plan.chosen) if report.plan is not None else []


def not_weighed_table(report: RestorationReport) -> Table:
    """Return the pairs for which no work was weighed, each with why."""
    rows = [{"pair": pair, "why": why} for pair, why in report.not_weighed]
    return table("not_weighed", "Not weighed", (words("pair", "Pair"), words("why", "Why")), rows)


def typical_grade(report: RestorationReport) -> float:
    """Return the middle one of the grades for which the effects are listed; 0 where there are none."""
    grades = sorted(set(report.effects["grade"]))
    return float(grades[len(grades) // 2]) if grades else 0.0


def effects_table(report: RestorationReport) -> Table:
    """Return the total effect of each treatment by era and grade, as factors on the price, and its parts."""
    reach = student_quantile((1 + report.level) / 2, float("inf"))
    total, error = pl.col("total"), pl.col("total_error")
    rows = report.effects.select(
        "treatment",
        "era",
        "grade",
        pl.col("gain").alias("grades_gained"),
        pl.col("grade_effect", "discount").exp(),
        total.exp(),
        (total - reach * error).exp().alias("total_low"),
        (total + reach * error).exp().alias("total_high"),
        pl.col("regression", "before_after").exp(),
        "sales",
        "borrowed",
    )
    return table(
        "effects",
        "What each treatment does to a price in total",
        (
            words("treatment", "Treatment"),
            words("era", "Era"),
            Column("grade", "From grade", "{:g}".format, number=True),
            Column("grades_gained", "Grades", "{:+.1f}".format, number=True),
            factor("grade_effect", "For the grade"),
            factor("discount", "For the work"),
            factor("total", "Total"),
            factor("total_low", "Low"),
            factor("total_high", "High"),
            factor("regression", "Regression alone"),
            factor("before_after", "Before and after"),
            count("sales", "Sales"),
            count("borrowed", "Borrowed"),
        ),
        rows,
        note=f"The price of the grade gained, less what buyers take off restored pairs; low to high: the "
        f"{formats.level(report.level)} range.{borrowed_words(report)}",
    )


def borrowed_words(report: RestorationReport) -> str:
    """Return what to know of effects without sales of their era, and of eras without any; "" where there are none."""
    borrowed = (
        " With 0 sales, no sale has that work in that era: the effect is borrowed from sales of other eras, and may "
        "differ in this one."
        if (report.effects["borrowed"] > 0).any()
        else ""
    )
    if not report.unsold_eras:
        return borrowed
    return f"{borrowed} No effect is shown for eras without a sale in the records: {', '.join(report.unsold_eras)}."


def checks_table(report: RestorationReport) -> Table:
    """Return the two checks of each judged treatment, as factors on the price, ± one standard error in points."""
    names = ("before_after", "regression", "difference")
    rows = report.evidence.judged.select(
        "treatment",
        "pairs",
        *(pl.col(name).exp() for name in names),
        *((100 * pl.col(name).exp() * pl.col(f"{name}_error")).alias(f"{name}_points") for name in names),
        "disagree",
    )
    return table(
        "checks",
        "Pairs sold before and after the work, against the regression on the same pairs",
        (
            words("treatment", "Treatment"),
            count("pairs", "Pairs"),
            factor("before_after", "Before and after"),
            decimal("before_after_points", "±", 0),
            factor("regression", "Regression"),
            decimal("regression_points", "±", 0),
            factor("difference", "Difference"),
            decimal("difference_points", "±", 0),
            Column("disagree", "Checks", lambda apart: "disagree" if apart else "agree"),
        ),
        rows,
        note="±: one standard error, in percentage points.",
    )


def left_out_table(report: RestorationReport) -> Table:
    """Return how many resales could not be used, by reason."""
    rows = [{"reason": reason, "resales": number} for reason, number in report.left_out.items()]
    columns = (words("reason", "Reason"), count("resales", "Resales"))
    return table("left_out", "Resales that could not be used", columns, rows)


def gains_table(report: RestorationReport) -> Table:
    """Return the grades that each treatment gains: the owner's figure, and what the pairs graded twice make of it."""
    gains = report.gains
    rows = [
        {
            "treatment": name,
            "stated": float(gains.stated[place]),
            "pairs": int(gains.pairs[place]),
            "mean": float(gains.mean[place]),
            "error": float(gains.covariance[place, place]) ** 0.5,
        }
        for place, name in enumerate(gains.treatments)
    ]
    return table(
        "gains",
        "Grades that each treatment gains",
        (
            words("treatment", "Treatment"),
            Column("stated", "Your figure", "{:g}".format, number=True),
            count("pairs", "Pairs graded twice"),
            decimal("mean", "Used here", 2),
            decimal("error", "±", 2),
        ),
        rows,
    )


def chance_text(chance: float) -> str:
    """Return a chance in whole per cents, never as certain: 12 %, under 1 %."""
    if chance < CERTAIN:
        return "under 1\u00a0%"
    return "over 99\u00a0%" if chance > 1 - CERTAIN else formats.level(chance)


def restoration_document(report: RestorationReport) -> dict[str, Any]:
    """Return the report as plain objects, for JSON."""
    evidence, plan = report.evidence, report.plan
    return {
        "as_of": report.as_of,
        "currency": report.currency,
        "plan": None
        if plan is None
        else {
            "works": [
                {"pair": row["label"], "treatments": row["treatments"], "gain": row["gain"]}
                for row in report.works[list(plan.chosen)].iter_rows(named=True)
            ],
            "gain": plan.gain,
            "error": plan.error,
            "hours": plan.hours,
            "hours_given": plan.hours_given,
            "money": plan.money,
            "money_given": plan.money_given,
            "more_hours": plan.more_hours,
            "more_money": plan.more_money,
        },
        "level": report.level,
        "works": report.works.drop("pair", "work").to_dicts(),
        "not_weighed": [{"pair": pair, "why": why} for pair, why in report.not_weighed],
        "effects": report.effects.to_dicts(),
        "before_and_after": {
            "untouched_pairs": evidence.untouched,
            "drift": evidence.drift,
            "drift_error": evidence.drift_error,
            "why_none": evidence.why_none,
            "judged": evidence.judged.to_dicts(),
            "left_out": report.left_out,
        },
        "grade_gains": gains_table(report)
        .rows.select("treatment", "stated", "mean", "error", "pairs")
        .to_dicts(),
        "safety": list(report.safety),
        "cautions": list(report.cautions),
        "weak": report.weak,
        "source": report.source,
    }
