"""What restoring does, and what to restore next, in the terminal."""

from math import exp
from typing import Any

from rich.markup import escape

from pipeline import formats
from pipeline.answers.restoration.answer import RestorationReport
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of
from reports.restoration.frames import BORROWED, chance_text, give_or_take, sales_words

MOST_WORKS = 30
"""No more pieces of work than this are listed; the page and the CSV hold all."""


def show_restoration(report: RestorationReport) -> None:
    """Print the plan first, then the works, the effects, both witnesses, and the cautions."""
    OUT.print(f"\n[bold]What to restore[/bold], valued at {report.as_of.isoformat()}")
    if report.plan is not None:
        _show_plan(report)
        _show_works(report)
    _show_effects(report)
    _show_witnesses(report)
    OUT.print("[bold]Before you begin[/bold]")
    for caution in (*report.safety, *report.cautions):
        OUT.print(f"! {escape(caution)}", soft_wrap=True)
    source = report.source
    OUT.print(
        f"From {source.records:,} sales, {source.first_sale} to {source.last_sale}; fit {source.fit_id}, "
        f"pairband {source.version}.",
        soft_wrap=True,
    )
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")


def restoration_document(report: RestorationReport) -> dict[str, Any]:
    """Return the report as plain objects, for JSON."""
    evidence, gains, plan = report.evidence, report.gains, report.plan
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
            "next_hour": plan.next_hour,
            "money_step": plan.money_step,
            "next_money": plan.next_money,
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
        "grade_gains": [
            {
                "treatment": name,
                "stated": float(gains.stated[place]),
                "mean": float(gains.mean[place]),
                "error": float(gains.covariance[place, place]) ** 0.5,
                "pairs": int(gains.pairs[place]),
            }
            for place, name in enumerate(gains.treatments)
        ],
        "safety": list(report.safety),
        "cautions": list(report.cautions),
        "source": report.source,
    }


def _show_plan(report: RestorationReport) -> None:
    plan, currency = report.plan, report.currency
    if plan is None:
        return
    if not plan.chosen:
        OUT.print("No work on this stock gains more than it costs, in the hours and money given.\n")
        return
    OUT.print(
        f"The best of it: [bold]{formats.estimate(plan.gain, currency)}[/bold] net "
        f"(± {formats.estimate(plan.error, currency)}, one standard error), "
        f"{formats.counted(len(plan.chosen), 'pair')}, {plan.hours:g} of {plan.hours_given:g} hours, "
        f"{formats.amount(plan.money, currency)} of {formats.amount(plan.money_given, currency)} for materials.",
        soft_wrap=True,
    )
    OUT.print(
        f"One more hour would add {formats.estimate(plan.next_hour, currency)}; "
        f"{formats.amount(plan.money_step, currency)} more would add {formats.estimate(plan.next_money, currency)}.\n",
        soft_wrap=True,
    )


def _show_works(report: RestorationReport) -> None:
    currency, plan = report.currency, report.plan
    chosen = set(plan.chosen) if plan is not None else set()
    table = table_of(
        "",
        "pair",
        "work",
        "hours",
        "cost",
        "net gain",
        f"{100 * report.level:.0f} % band",
        "loss",
        right=(3, 4, 5, 6, 7),
    )
    for number, row in enumerate(report.works.head(MOST_WORKS).iter_rows(named=True)):
        table.add_row(
            "✓" if number in chosen else "",
            escape(row["label"]),
            escape(row["work"]),
            f"{row['hours']:g}",
            formats.amount(row["cost"], currency),
            formats.change(row["gain"], currency, price=row["price_before"]),
            f"{formats.change(row['low'], currency, price=row['price_before'])} – "
            f"{formats.change(row['high'], currency, price=row['price_before'])}",
            chance_text(row["chance_of_loss"]),
        )
    OUT.print(table)
    OUT.print("✓ in the plan; loss: the chance that the work does not pay for itself.")
    if report.works.height > MOST_WORKS:
        OUT.print(f"{report.works.height - MOST_WORKS} more: see --page or --csv.")
    for pair, why in report.not_weighed:
        OUT.print(f"  {escape(pair)}: {why}.")
    OUT.print()


def _show_effects(report: RestorationReport) -> None:
    grades = sorted(set(report.effects["grade"]))
    OUT.print("In total: the grade bought less the discount for being restored (± one standard error)")
    table = table_of(
        "treatment",
        "era",
        *(f"from grade {grade:g}" for grade in grades),
        "sales",
        right=tuple(range(2, 3 + len(grades))),
    )
    for (treatment, era), rows in report.effects.group_by("treatment", "era", maintain_order=True):
        table.add_row(
            escape(str(treatment)),
            escape(str(era)),
            *(
                f"{formats.percent_change(exp(total))} ±{100 * exp(total) * error:.0f}"
                for total, error in rows.sort("grade").select("total", "total_error").iter_rows()
            ),
            sales_words(rows["sales"][0], rows["borrowed"][0]),
        )
    OUT.print(table)
    if (report.effects["borrowed"] > 0).any():
        OUT.print(BORROWED, soft_wrap=True)
    OUT.print()


def _show_witnesses(report: RestorationReport) -> None:
    evidence = report.evidence
    if not evidence.judged.height:
        return
    OUT.print(
        "Pairs sold before and after, against the regression on the same pairs "
        f"({evidence.untouched} untouched pairs beside them)"
    )
    table = table_of(
        "treatment", "pairs", "before and after", "regression", "difference", "", right=(1, 2, 3, 4)
    )
    for row in evidence.judged.iter_rows(named=True):
        table.add_row(
            escape(row["treatment"]),
            formats.count(row["pairs"]),
            _effect(row, "before_after"),
            _effect(row, "regression"),
            _effect(row, "difference"),
            "[bold]they disagree[/bold]" if row["disagree"] else "",
        )
    OUT.print(table)
    OUT.print()


def _effect(row: dict[str, Any], name: str) -> str:
    size, error = row[name], row[f"{name}_error"]
    return give_or_take(size, error)
