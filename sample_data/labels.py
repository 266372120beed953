"""How each venue writes sizes, stamps, days and amounts."""

from functools import cache

import polars as pl

from pipeline.ingest.sizes import foot_mm

_GRIDS: dict[str, tuple[tuple[str, float], ...]] = {
    "UK": tuple((f"{half / 2:g}", half / 2) for half in range(11, 27)),
    "EU": tuple(
        (f"{whole}{third}", whole + number / 3)
        for whole in range(38, 50)
        for number, third in enumerate(("", " 1/3", " 2/3"))
    ),
    "JP": tuple((f"{half / 2:.1f}", half / 2) for half in range(48, 62)),
}
"""By size system: the labels that are printed, with their numbers."""

_MONTH_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_WINDOW_MONTHS = 3


@cache
def size_labels(system: str) -> dict[int, tuple[str, ...]]:
    """Return the labels of a size system by foot length in mm, each at its nearest 5 mm."""
    labels: dict[int, tuple[str, ...]] = {}
    for label, number in _GRIDS[system]:
        level = round(foot_mm(system, number) / 5) * 5
        labels[level] = (*labels.get(level, ()), label)
    return labels


def size_label(system: str) -> pl.Expr:
    """Return the label of the row's foot_mm; where two labels share a length, the pair decides."""
    options = {
        f"{level}|{turn}": labels[turn % len(labels)]
        for level, labels in size_labels(system).items()
        for turn in range(6)
    }
    key = pl.concat_str(pl.col("foot_mm"), pl.lit("|"), pl.col("pair") % 6)
    return key.replace_strict(options, default=None, return_dtype=pl.String)


def stamp_text(style: str) -> pl.Expr:
    """Return the production stamp as a venue copies it from the inside label, or null where it does not.

    Styles: slashed (03/85-06/85 KX2), packed (0385 0685 KX2), year first (85 03 – 85 06 KX2), named
    (Mar 85 - Jun 85 / KX2). The window is four months of stamp_year.
    """
    year = (pl.col("stamp_year") % 100).cast(pl.String).str.zfill(2)
    months = (pl.col("stamp_month"), pl.col("stamp_month") + _WINDOW_MONTHS)
    start, end = (month.cast(pl.String).str.zfill(2) for month in months)
    first, last = (
        month.replace_strict(dict(enumerate(_MONTH_NAMES, 1)), return_dtype=pl.String) for month in months
    )
    code = pl.col("factory")
    texts = {
        "slashed": pl.format("{}/{}-{}/{} {}", start, year, end, year, code),
        "packed": pl.format("{}{} {}{} {}", start, year, end, year, code),
        "year first": pl.format("{} {} – {} {} {}", year, start, year, end, code),
        "named": pl.format("{} {} - {} {} / {}", first, year, last, year, code),
    }
    return pl.when("says_stamp").then(texts[style])


def german_amount(amount: pl.Expr) -> pl.Expr:
    """Return whole units as a German export writes them: 1.250,00; empty where there is none."""
    size = amount.abs()
    sign = pl.when(amount < 0).then(pl.lit("-")).otherwise(pl.lit(""))
    rest = (size % 1000).cast(pl.String)
    grouped = pl.when(size >= 1000).then(pl.format("{}.{}", size // 1000, rest.str.zfill(3))).otherwise(rest)
    return pl.format("{}{},00", sign, grouped)


def plain_amount(amount: pl.Expr) -> pl.Expr:
    """Return whole units as 1250.00; null where there is none."""
    return pl.format("{}.00", amount)


def yen_text(amount: pl.Expr) -> pl.Expr:
    """Return whole yen as a typed cell: ￥ and full-width digits with a comma between thousands."""
    rest = (amount % 1000).cast(pl.String).str.zfill(3)
    grouped = (
        pl.when(amount >= 1000)
        .then(pl.format("{},{}", amount // 1000, rest))
        .otherwise(amount.cast(pl.String))
    )
    wide = grouped.str.replace_many(list("0123456789,"), list("０１２３４５６７８９，"))
    return pl.format("￥{}", wide)
