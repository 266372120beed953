"""What attributes are worth, and whether that moved, on sales whose truth is known."""

from datetime import date, timedelta
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.market_view.attribute_values import AttributeValue, Halves, attribute_values
from pipeline.hedonic.fit import fit
from pipeline.hedonic.percent import kennedy, kennedy_error
from pipeline.hedonic.specification import Specification, Term

MODEL = Specification(
    "log_price",
    (
        Term("era", "level", ("era",), "second"),
        Term("grade", "curve", ("grade",)),
        Term("box", "level", ("box",)),
        Term("defects", "flags", ("defects",)),
        Term("venue", "pooled", ("venue",)),
        Term("month", "walk", ("month",)),
    ),
)
FIRST_DAY = date(2020, 1, 1)


@cache
def drawn(count: int = 1500) -> pl.DataFrame:
    """Return sales of four years: a box is worth .2 in the first half of them and .5 in the second."""
    random = np.random.default_rng(5)
    day = np.sort(random.integers(0, 1440, count))
    era = random.choice(["first", "second"], count)
    grade = random.integers(12, 20, count) / 2
    box = random.choice(["unknown", "none", "original"], count, p=[0.5, 0.2, 0.3])
    torn = random.random(count) < 0.2
    venue = random.choice(["Holm", "Lantern"], count, p=[0.7, 0.3])
    log_price = (
        5
        + np.where(era == "first", 0.4, 0)
        + 0.1 * grade
        + np.where(box == "original", np.where(day < 720, 0.2, 0.5), 0)
        - 0.15 * torn
        + np.where(venue == "Lantern", 0.1, 0)
        + random.normal(0, 0.12, count)
    )
    sold_on = [FIRST_DAY + timedelta(days=int(days)) for days in day]
    return pl.DataFrame(
        {
            "record_id": [f"{number:05d}" for number in range(count)],
            "sold_on": sold_on,
            "month": [12 * on.year + on.month - 1 for on in sold_on],
            "era": era,
            "grade": grade,
            "box": box,
            "defects": [["cracked overlay"] if one else [] for one in torn],
            "venue": venue,
            "log_price": log_price,
        }
    )


@cache
def found(count: int = 1500) -> tuple[dict[tuple[str, str], AttributeValue], Halves]:
    sales = drawn(count)
    values, halves = attribute_values(fit(sales, MODEL), sales)
    return {(one.attribute, one.value): one for one in values}, halves


def test_an_attribute_is_worth_what_buyers_paid_for_it() -> None:
    first = found()[0]["era", "first"].effect
    assert first.share == pytest.approx(np.expm1(0.4), abs=3 * first.error)


def test_an_effect_is_kennedys_with_the_error_of_van_garderen_and_shah() -> None:
    effects = fit(drawn(), MODEL).effects
    row = effects.filter((pl.col("term") == "era") & (pl.col("level") == "first")).row(0, named=True)
    one = found()[0]["era", "first"].effect
    assert one.share == pytest.approx(float(kennedy(row["effect"], row["error"] ** 2)), rel=1e-9)
    assert one.error == pytest.approx(float(kennedy_error(row["effect"], row["error"] ** 2)), rel=1e-9)


def test_a_value_is_compared_with_one_that_is_known() -> None:
    assert found()[0]["box", "none"].against == "original"


def test_a_venue_is_held_against_the_one_that_sold_most() -> None:
    one = found()[0]["venue", "Lantern"]
    assert one.against == "Holm"
    assert one.effect.share == pytest.approx(np.expm1(0.1), abs=4 * one.effect.error)


def test_a_defect_is_held_against_not_having_it() -> None:
    assert found()[0]["defect", "cracked overlay"].against == ""


def test_the_value_that_others_are_held_against_is_not_listed() -> None:
    assert ("era", "second") not in found()[0]


def test_a_value_that_moved_is_told() -> None:
    assert found()[0]["box", "none"].moved


def test_the_halves_show_what_it_was_before_and_after() -> None:
    box = found()[0]["box", "none"]
    assert box.earlier is not None
    assert box.later is not None
    assert box.earlier.share == pytest.approx(np.expm1(-0.2), abs=4 * box.earlier.error)
    assert box.later.share == pytest.approx(np.expm1(-0.5), abs=4 * box.later.error)


def test_what_stood_still_is_not_said_to_have_moved() -> None:
    values = found()[0]
    still = ("era", "first"), ("defect", "cracked overlay"), ("venue", "Lantern")
    assert [values[key].moved for key in still] == [False, False, False]


def test_the_halves_part_at_a_day_and_hold_every_sale() -> None:
    halves = found()[1]
    assert halves.earlier + halves.later == 1500
    assert halves.earlier_to is not None
    assert halves.later_from is not None
    assert halves.earlier_to < halves.later_from


def test_too_few_sales_are_not_halved() -> None:
    values, halves = found(50)
    assert halves.why_not == "50 sales are too few to be halved."
    assert {one.later for one in values.values()} == {None}
    assert not any(one.moved for one in values.values())


def test_an_unknown_value_is_never_said_to_have_moved() -> None:
    unknown = found()[0]["box", "unknown"]
    assert unknown.chance is None
    assert not unknown.moved
