"""What can be seen of a pair that may tell its era, as levels that can be counted; years that its words or label say.

Defects and treatments are not among it: they change with what is done to a pair, and few sellers list them all.
"""

from collections.abc import Mapping, Sequence
from datetime import date

import polars as pl

from pipeline.config import Era
from pipeline.schema import UNKNOWN

SEEN: tuple[str, ...] = ("colourway", "factory_code", "lasting", "overlay", "box", "tags", "grade")
"""The columns of a record whose values say something about the era; what nobody stated says nothing."""

HALF_A_RECORD = 0.5
"""What each answer to a question has before the records are counted (Jeffreys' prior)."""


def as_levels(records: pl.DataFrame) -> pl.DataFrame:
    """Return silhouette and SEEN as String, null where nobody stated it, row by row.

    A colourway is one of its silhouette, since the same name means another thing on another; grades count in whole
    steps ("8 to 8.5").
    """
    whole = pl.col("grade").floor().cast(pl.Int32)
    seen = {
        "colourway": pl.format("{} {}", "silhouette", "colourway"),
        "grade": pl.when(whole >= 10).then(pl.lit("10")).otherwise(pl.format("{} to {}.5", whole, whole)),
    }
    stated = [
        seen.get(name, pl.when(pl.col(name) != UNKNOWN).then(pl.col(name))).cast(pl.String).alias(name)
        for name in SEEN
    ]
    return records.select(pl.col("silhouette").cast(pl.String), *stated)


def years_within(first: int, last: int, eras: Sequence[Era], *, as_of: date) -> dict[str, float]:
    """Return how many of the years `first` to `last` lie in each era; one that still lasts ends with `as_of`."""
    return {
        era.name: float(max(min(last, _end(era, as_of)) - max(first, era.first_year) + 1, 0)) for era in eras
    }


def chances_of_years(
    within: Mapping[str, float], eras: Sequence[Era], *, as_of: date, wrong: float
) -> dict[str, float]:
    """Return in what proportion pairs of each era are said to be of years that lie `within` the eras.

    A pair is as likely to be of any year of its era, so that an era of few years says more of each. What is said is
    `wrong` with that chance, and may then be any year. Years in no era say nothing.
    """
    together = sum(within.values())
    if not together:
        return {era.name: 1.0 for era in eras}
    every = max(max(_end(era, as_of) for era in eras) - min(era.first_year for era in eras) + 1, 1)
    return {
        era.name: (1 - wrong)
        * within.get(era.name, 0.0)
        / together
        / max(_end(era, as_of) - era.first_year + 1, 1)
        + wrong / every
        for era in eras
    }


def share_of_wrong_labels(labels: pl.DataFrame, eras: Sequence[Era]) -> float:
    """Return the share of label dates that contradict the stated era, never quite zero (Jeffreys' prior).

    `labels` holds era, production_year and how many records state both.
    """
    years = pl.DataFrame(
        [(era.name, era.first_year, era.last_year) for era in eras],
        schema={"era": pl.String, "first": pl.Int32, "last": pl.Int32},
        orient="row",
    )
    outside = (pl.col("production_year") < pl.col("first")) | (
        pl.col("production_year") > pl.col("last")
    ).fill_null(value=False)
    compared = labels.join(years, on="era")
    contradicted, every = int(compared.filter(outside)["records"].sum()), int(compared["records"].sum())
    return (contradicted + HALF_A_RECORD) / (every + 2 * HALF_A_RECORD)


def _end(era: Era, as_of: date) -> int:
    return as_of.year if era.last_year is None else era.last_year
