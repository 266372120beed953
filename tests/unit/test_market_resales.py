"""The second opinion: what pairs fetched when they were sold again."""

from datetime import date
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.market_view.resales import Resales, resale_index
from pipeline.hedonic.fit import fit
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.model import FACTORS

MODEL = Specification(
    "log_price",
    (
        Term("silhouette", "pooled", ("silhouette",)),
        Term("grade", "curve", ("grade",)),
        Term("treatments", "flags", ("treatments",)),
        Term("venue", "level", ("venue",), "Holm"),
        Term("month", "walk", ("month",)),
    ),
)
START = 12 * 2020
DRIFT = 0.01


@cache
def sales(pairs: int, premium: float = 0.0) -> pl.DataFrame:
    """Return pairs sold at Holm, restored by a grade, and sold again at Lantern (20 % dearer) a year on.

    Prices rise by 1 % a month; `premium` (log price) is what a second sale fetches besides.
    """
    random = np.random.default_rng(3)
    month = random.integers(0, 36, pairs)
    gap = random.integers(6, 18, pairs)
    quality = random.normal(0, 0.3, pairs)
    grade = random.integers(10, 17, pairs) / 2
    empty: list[str] = []

    def sold(again: int) -> pl.DataFrame:
        when = month + again * gap
        log_price = 5 + quality + 0.1 * (grade + again) + DRIFT * when + again * (0.2 - 0.05 + premium)
        return pl.DataFrame(
            {
                "record_id": [f"{number:04d}-{again}" for number in range(pairs)],
                "log_price": log_price + random.normal(0, 0.05, pairs),
                "silhouette": ["Gannet Hi"] * pairs,
                "colourway": pl.Series([None] * pairs, dtype=pl.String),
                "era": ["first"] * pairs,
                "size_mm": [270] * pairs,
                "grade": grade + again,
                "box": ["unknown" if again else "original"] * pairs,
                "tags": ["none"] * pairs,
                "overlay": ["leather"] * pairs,
                "parts": [empty] * pairs,
                "defects": [empty] * pairs,
                "treatments": [["sole swap"] if again else empty] * pairs,
                "venue": ["Lantern" if again else "Holm"] * pairs,
                "month": START + when,
            },
            schema_overrides=FACTORS,
        )

    lone = sold(1).with_columns(
        pl.lit([], dtype=pl.List(pl.String)).alias("treatments"),
        (pl.col("log_price") - pl.Series(quality) + 0.05 - premium).alias("log_price"),
        ("lone-" + pl.col("record_id")).alias("record_id"),
    )
    return pl.concat([sold(0), sold(1), lone])


def resales(pairs: int) -> pl.DataFrame:
    """Return the columns of repeat_sales.sql that name the two sales."""
    return pl.DataFrame(
        {
            "first_id": [f"{number:04d}-0" for number in range(pairs)],
            "second_id": [f"{number:04d}-1" for number in range(pairs)],
        },
        schema={"first_id": pl.String, "second_id": pl.String},
    )


@cache
def found(pairs: int, premium: float = 0.0) -> Resales:
    frame = sales(max(pairs, 40), premium)
    return resale_index(fit(frame, MODEL), resales(pairs), frame)


def test_resales_follow_the_market_once_restoring_and_venue_are_allowed_for() -> None:
    last = found(300).points[-1]
    months = 12 * last.period.year + last.period.month - 1 - START
    assert last.low < 100 * np.exp(DRIFT * months) * 1.05
    assert last.high > 100 * np.exp(DRIFT * months) / 1.05


def test_many_resales_carry_an_index_by_quarter() -> None:
    assert found(300).months == 3
    assert not found(300).rough


def test_the_index_is_100_in_the_first_period_that_a_pair_reaches() -> None:
    assert found(300).points[0].index == pytest.approx(100.0)
    assert found(300).base == date(2020, 1, 1)


def test_every_resale_is_used_near_or_cannot_be_priced() -> None:
    told = found(300)
    assert told.pairs + told.near + told.unpriced == 300


def test_a_resale_whose_sale_is_held_out_cannot_be_priced() -> None:
    frame = sales(40)
    known = frame.filter(pl.col("record_id") != "0007-1")
    assert resale_index(fit(frame, MODEL), resales(40), known).unpriced == 1


def test_resales_that_agree_with_the_index_are_said_to() -> None:
    agreement = found(300).agreement
    assert agreement is not None
    assert agreement.low < 1.02
    assert agreement.high > 0.98


def test_the_years_of_the_agreement_hold_every_resale() -> None:
    assert sum(one.pairs for one in found(300).by_year) == 300


def test_a_few_resales_are_no_index() -> None:
    assert found(9).points == ()
    assert found(9).why_not == (
        "9 resales of one and the same pair are too few for an index of their own (10 are needed)."
    )


def test_no_resale_at_all_is_no_index() -> None:
    told = found(0)
    assert (told.points, told.agreement, told.by_year) == ((), None, ())
