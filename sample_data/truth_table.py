"""The truth as tables for the README: each effect on log price, and in percent."""

import math

from sample_data import scenario, truth


def truth_markdown() -> str:
    """Return the truth as Markdown tables, as the README of this folder holds them."""
    named = {
        "Era": truth.ERAS,
        "Box": truth.BOX,
        "Tags": truth.TAGS,
        "Part": truth.PARTS,
        "Defect": truth.DEFECTS,
        "Treatment": truth.TREATMENTS,
        "Treatment, on originals besides": truth.TREATMENTS_ON_ORIGINALS,
        "Venue": truth.VENUES,
    }
    lines = ["| attribute | value | effect on log price | in percent |", "|---|---|---:|---:|"]
    lines += [
        f"| {attribute} | {value} | {_signed(effect)} | {math.expm1(effect) * 100:+.1f} |"
        for attribute, effects in named.items()
        for value, effect in effects.items()
    ]
    return "\n".join([*lines, "", *_silhouette_lines(), "", *_curve_lines(), "", *_month_lines(), ""])


def _silhouette_lines() -> list[str]:
    market = scenario.market()
    eras = [era.name for era in market.eras]
    header = f"| silhouette | effect | {' | '.join(f'× {era}' for era in eras)} | colourways, the most usual first |"
    rows = [
        f"| {name} | {_signed(one.effect)} | {' | '.join(_signed(effect) for effect in one.by_era)} | "
        + ", ".join(
            f"{colourway.name} {_signed(effect)}"
            for colourway, effect in zip(
                market.silhouette_by_name[name].colourways, one.colourways, strict=True
            )
        )
        + " |"
        for name, one in truth.SILHOUETTES.items()
    ]
    return [header, "|---|---:|" + "---:|" * len(eras) + "---|", *rows]


def _curve_lines() -> list[str]:
    sizes = ", ".join(f"{level}: {_signed(effect)}" for level, effect in truth.FOOT_MM.items())
    grades = ", ".join(f"{level:g}: {_signed(effect)}" for level, effect in truth.GRADES.items())
    gains = ", ".join(f"{name} {gain:g}" for name, gain in truth.GRADE_GAIN.items())
    scales = ", ".join(f"from grade {level:g}: {scale:g}" for level, scale in truth.SCALES.items())
    return [
        f"* Foot length in mm (log): {sizes}.",
        f"* Grade (log): {grades}.",
        f"* Grades that a treatment gains on average, to at most {truth.RESTORED_GRADE_LIMIT:g}: {gains}.",
        f"* Residual: Student-t with {truth.DEGREES_OF_FREEDOM:g} degrees of freedom; scale {scales}.",
        f"* The reference pair's log price, every effect zero: {truth.BASE:g}.",
    ]


def _month_lines() -> list[str]:
    years = range(scenario.FIRST_DAY.year, scenario.LAST_DAY.year + 1)
    rows = []
    for year in years:
        cells = [
            f"{truth.MONTH_LEVELS[at]:.3f}" if 0 <= at < scenario.MONTHS else ""
            for at in ((year - scenario.FIRST_DAY.year) * 12 + month - 9 for month in range(12))
        ]
        rows.append(f"| {year} | {' | '.join(cells)} |")
    months = " | ".join(f"{month:02d}" for month in range(1, 13))
    return [f"| level of log price | {months} |", "|---|" + "---:|" * 12, *rows]


def _signed(effect: float | None) -> str:
    return "not made" if effect is None else f"{effect:+g}" if effect else "0"
