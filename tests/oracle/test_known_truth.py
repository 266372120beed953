"""The fit against the known truth of the demo's scenario, and its bands in time order.

The truth is invented (sample_data/truth.py); what is checked is that the estimator finds what is there.
Draws are fixed by their seeds. Bounds: of k effects with honest standard errors, the root mean square
of error / standard error is near 1; beyond 1.35 the errors would be told too small.
"""

from functools import cache
from math import sqrt

import numpy as np
import polars as pl
import pytest

from pipeline.hedonic.fitted import Fit
from pipeline.market.bands import LEVELS, value_pairs
from sample_data import truth
from tests import drawn

SALES = 6000
SEED = 3


@cache
def whole_fit() -> Fit:
    """Return the fit to all sales."""
    return drawn.fit_to(drawn.sales(SALES, SEED))


def standardised(term: str, known: dict[str, float], reference: str) -> list[float]:
    """Return (estimate − truth) / standard error of each level against the reference level."""
    effects = {
        level: (effect, error)
        for name, level, effect, error in whole_fit()
        .effects.select("term", "level", "effect", "error")
        .iter_rows()
        if name == term
    }
    return [
        (effects[level][0] - effects[reference][0] - (size - known[reference])) / effects[level][1]
        for level, size in known.items()
        if level != reference and effects[level][1] > 0
    ]


@pytest.mark.parametrize(
    ("term", "known", "reference"),
    [
        ("box", truth.BOX, "none"),
        ("tags", truth.TAGS, "none"),
        ("grade", {f"{grade:g}": size for grade, size in truth.GRADES.items()}, "7"),
        ("size", {str(size): effect for size, effect in truth.FOOT_MM.items()}, "270"),
    ],
)
def test_the_effects_of_attributes_are_found_within_their_errors(
    term: str, known: dict[str, float], reference: str
) -> None:
    scores = standardised(term, known, reference)

    assert max(abs(score) for score in scores) < 3.5
    assert sqrt(float(np.mean(np.square(scores)))) < 1.6


def test_the_effects_of_defects_and_parts_are_found_within_their_errors() -> None:
    effects = whole_fit().effects
    known = {**truth.DEFECTS, **truth.PARTS}
    found = effects.filter(pl.col("term").is_in(["defects", "parts"]))

    scores = [
        (effect - known[level]) / error
        for level, effect, error in found.select("level", "effect", "error").iter_rows()
    ]

    assert len(scores) == len(known)
    assert max(abs(score) for score in scores) < 3


def test_what_restoration_costs_is_found_in_each_era() -> None:
    effects = whole_fit().effects
    main = dict(effects.filter(pl.col("term") == "treatments").select("level", "effect").iter_rows())
    more = dict(effects.filter(pl.col("term") == "treatments in era").select("level", "effect").iter_rows())

    for treatment, size in truth.TREATMENTS.items():
        original = size + truth.TREATMENTS_ON_ORIGINALS[treatment]
        assert main[treatment] + more[f"{treatment} × first"] == pytest.approx(original, abs=0.06)


@cache
def held_by_later_sales() -> pl.DataFrame:
    """Return one row a later sale and band: level, inside; the bands are those that `pairband appraise` gives."""
    sales = drawn.sales(SALES, SEED)
    parts = []
    for cut in (24294, 24300, 24306):  # 2024-07, 2025-01, 2025-07
        past = sales.filter(pl.col("month") < cut)
        later = sales.filter(pl.col("month").is_between(cut, cut + 5)).sort("record_id")
        bands = value_pairs(drawn.fitted_to(past), later, LEVELS).bands
        actual = later["log_price"].gather(bands["row"])
        parts.append(bands.select("level", inside=actual.is_between(bands["low"], bands["high"])))
    return pl.concat(parts)


@pytest.mark.parametrize("level", LEVELS)
def test_bands_hold_the_sales_of_the_next_half_year(level: float) -> None:
    inside = held_by_later_sales().filter(pl.col("level") == level)["inside"]

    assert len(inside) > 900
    assert inside.mean() == pytest.approx(level, abs=0.04)
