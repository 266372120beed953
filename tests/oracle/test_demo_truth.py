"""The whole way on the demo's exports, against its known truth.

Unlike the drawn sales of test_known_truth.py, these have gone through exports, maps, currencies, fees
and titles, with attributes that the venues do not state. The truth is invented (sample_data/truth.py).
"""

from functools import cache
from math import sqrt

import numpy as np
import polars as pl
import pytest

from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.model import specification
from sample_data import scenario, truth
from tests.demo_ledger import demo_sales


@cache
def demo_fit() -> Fit:
    sales = demo_sales().sort("record_id")
    market = scenario.market()
    with one_blas_thread():
        return fit(
            sales,
            specification(market, sales),
            robust=Robust(degrees_of_freedom=market.model.degrees_of_freedom),
        )


def found(term: str) -> dict[str, tuple[float, float]]:
    """Return level → (effect, standard error) of a term."""
    effects = demo_fit().effects.filter(pl.col("term") == term)
    return {
        level: (effect, error)
        for level, effect, error in effects.select("level", "effect", "error").iter_rows()
    }


@pytest.mark.parametrize(
    ("term", "known", "reference"),
    [
        ("box", truth.BOX, "none"),
        ("tags", truth.TAGS, "none"),
        ("grade", {f"{grade:g}": size for grade, size in truth.GRADES.items()}, "7"),
        ("size", {str(size): effect for size, effect in truth.FOOT_MM.items()}, "270"),
    ],
)
def test_what_an_attribute_is_worth_is_found_within_its_own_interval(
    term: str, known: dict[str, float], reference: str
) -> None:
    effects = found(term)
    gaps = [
        abs(effects[level][0] - effects[reference][0] - (size - known[reference])) / effects[level][1]
        for level, size in known.items()
        if level != reference and level in effects
    ]

    assert len(gaps) >= 2
    assert max(gaps) < 3.5
    assert np.mean([gap < 1.96 for gap in gaps]) >= 0.75


@pytest.mark.parametrize(("term", "known"), [("defects", truth.DEFECTS), ("parts", truth.PARTS)])
def test_what_a_flaw_or_a_part_is_worth_is_found_within_its_own_interval(
    term: str, known: dict[str, float]
) -> None:
    effects = found(term)

    for level, size in known.items():
        assert effects[level][0] == pytest.approx(size, abs=3.3 * effects[level][1] + 0.01)


def test_what_restoration_costs_is_found_in_each_era() -> None:
    main, more = found("treatments"), found("treatments in era")

    for treatment, size in truth.TREATMENTS.items():
        for era in ("first", "late reissue"):
            original = truth.TREATMENTS_ON_ORIGINALS[treatment] if era == "first" else 0.0
            effect = main[treatment][0] + more[f"{treatment} × {era}"][0]
            error = sqrt(main[treatment][1] ** 2 + more[f"{treatment} × {era}"][1] ** 2)
            assert effect == pytest.approx(size + original, abs=3 * error)


def test_the_market_rose_and_fell_as_it_did() -> None:
    months = found("month")
    level = np.array([months[str(12 * 2017 + 9 + step)][0] for step in range(scenario.MONTHS)])
    known = np.array(truth.MONTH_LEVELS)

    assert np.corrcoef(level, known)[0, 1] > 0.97


def test_single_sales_scatter_hardly_more_than_they_do_in_truth() -> None:
    least, most = min(truth.SCALES.values()), max(truth.SCALES.values())

    assert least < demo_fit().residual_scale < most
