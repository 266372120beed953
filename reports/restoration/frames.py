"""A restoration report as frames of texts and places: what its charts draw and its tables say."""

from math import exp

import polars as pl

from pipeline import formats
from pipeline.answers.restoration.answer import RestorationReport
from pipeline.hedonic.distributions import student_quantile
from pipeline.untrusted import show_words

CERTAIN = 0.005
NAME = 80
"""The longest name of a pair or treatment that a row shows."""


def work_frame(report: RestorationReport) -> pl.DataFrame:
    """Return one row a piece of work, in the order of the report.

    Columns: number (of the pair), chosen (Boolean), pair, work, hours, cost, before, after, gain, range, loss, sale
    (String), gain_value, low_value, high_value (Float64, base currency).
    """
    currency = report.currency
    chosen = set(report.plan.chosen) if report.plan is not None else set()
    rows = [
        {
            "number": row["pair"],
            "chosen": place in chosen,
            "pair": show_words(" ".join(dict.fromkeys((row["label"], row["silhouette"]))), NAME),
            "work": show_words(row["work"], NAME),
            "hours": f"{row['hours']:g}",
            "cost": formats.amount(row["cost"], currency),
            "before": formats.estimate(row["price_before"], currency),
            "after": formats.estimate(row["price_after"], currency),
            "gain": _money(row["gain"], row["price_before"], currency),
            "range": f"{_money(row['low'], row['price_before'], currency)} to "
            f"{_money(row['high'], row['price_before'], currency)}",
            "loss": chance_text(row["chance_of_loss"]),
            "sale": chance_text(row["chance_at_sale"]),
            "gain_value": row["gain"],
            "low_value": row["low"],
            "high_value": row["high"],
        }
        for place, row in enumerate(report.works.iter_rows(named=True))
    ]
    texts = ("pair", "work", "hours", "cost", "before", "after", "gain", "range", "loss", "sale")
    return pl.DataFrame(
        rows,
        schema={
            "number": pl.Int64,
            "chosen": pl.Boolean,
            **dict.fromkeys(texts, pl.String),
            **dict.fromkeys(("gain_value", "low_value", "high_value"), pl.Float64),
        },
    )


BORROWED = (
    "Borrowed: no sale has that work in that era; the effect is taken from so many sales of other eras, "
    "and may be another in this one."
)
"""What must be said where an effect is borrowed."""


def sales_words(sales: int, borrowed: int) -> str:
    """Return how many sales stand behind an effect, or from how many of other eras it is borrowed."""
    return f"0 (borrowed from {formats.count(borrowed)})" if borrowed else formats.count(sales)


def effect_frame(report: RestorationReport) -> pl.DataFrame:
    """Return one row a treatment, era and grade: texts in per cent, and middle, low, high (per cent, Float64)."""
    reach = student_quantile((1 + report.level) / 2, float("inf"))
    rows = []
    for row in report.effects.iter_rows(named=True):
        total, error = row["total"], row["total_error"]
        low, high = total - reach * error, total + reach * error
        rows.append(
            {
                "words": show_words(f"{row['treatment']}, {row['era']}", NAME),
                "grade": f"{row['grade']:g}",
                "grade_value": row["grade"],
                "bought": f"+{row['gain']:.1f}: {formats.percent_change(exp(row['grade_effect']))}",
                "discount": formats.percent_change(exp(row["discount"])),
                "figure": formats.percent_change(exp(total)),
                "range": f"{formats.percent_change(exp(low))} to {formats.percent_change(exp(high))}",
                "regression": formats.percent_change(exp(row["regression"])),
                "before_after": None
                if row["before_after"] is None
                else formats.percent_change(exp(row["before_after"])),
                "sales": sales_words(row["sales"], row["borrowed"]),
                "middle": 100 * (exp(total) - 1),
                "low": 100 * (exp(low) - 1),
                "high": 100 * (exp(high) - 1),
            }
        )
    numbers = ("grade_value", "middle", "low", "high")
    texts = (
        "words",
        "grade",
        "bought",
        "discount",
        "figure",
        "range",
        "regression",
        "before_after",
        "sales",
    )
    return pl.DataFrame(
        rows, schema={**dict.fromkeys(texts, pl.String), **dict.fromkeys(numbers, pl.Float64)}
    )


def witness_frame(report: RestorationReport) -> pl.DataFrame:
    """Return one row a judged treatment: treatment, pairs, before_after, regression, difference, verdict (String)."""
    rows = [
        {
            "treatment": show_words(row["treatment"], NAME),
            "pairs": formats.count(row["pairs"]),
            **{
                name: give_or_take(row[name], row[f"{name}_error"])
                for name in ("before_after", "regression", "difference")
            },
            "verdict": "disagree" if row["disagree"] else "agree within chance",
        }
        for row in report.evidence.judged.iter_rows(named=True)
    ]
    names = ("treatment", "pairs", "before_after", "regression", "difference", "verdict")
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String))


def gain_frame(report: RestorationReport) -> pl.DataFrame:
    """Return one row a treatment: treatment, stated, pairs, mean (grades, String)."""
    gains = report.gains
    return pl.DataFrame(
        {
            "treatment": [show_words(name, NAME) for name in gains.treatments],
            "stated": [f"{stated:g}" for stated in gains.stated],
            "pairs": [formats.count(int(pairs)) for pairs in gains.pairs],
            "mean": [
                f"{mean:.2f} ± {gains.covariance[place, place] ** 0.5:.2f}"
                for place, mean in enumerate(gains.mean)
            ],
        },
        schema=dict.fromkeys(("treatment", "stated", "pairs", "mean"), pl.String),
    )


def works_export(report: RestorationReport) -> pl.DataFrame:
    """Return the works as a flat table of values, for CSV: lists joined by "; "; money in the base currency."""
    chosen = set(report.plan.chosen) if report.plan is not None else set()
    return report.works.select(
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
        pl.lit(report.currency).alias("currency"),
    ).with_columns(pl.col(pl.Float64).round(4))


def give_or_take(effect: float, error: float) -> str:
    """Return an effect on log price as per cent, with its standard error in points: +12 % ± 9."""
    return f"{formats.percent_change(exp(effect))} ± {100 * exp(effect) * error:.0f}"


def chance_text(chance: float) -> str:
    """Return a chance in whole per cents, never as certain: 12 %, under 1 %."""
    if chance < CERTAIN:
        return "under 1\u00a0%"
    return "over 99\u00a0%" if chance > 1 - CERTAIN else formats.level(chance)


def _money(value: float, price: float, currency: str) -> str:
    return formats.change(value, currency, price=price)
