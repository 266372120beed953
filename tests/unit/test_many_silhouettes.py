"""A house with more silhouettes than a spreadsheet has rows: what is kept follows what was sold together."""

import json
from datetime import date
from functools import cache

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipeline.errors import FitError
from pipeline.hedonic.document import from_document, to_document
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.inverse import sparse_rows
from pipeline.hedonic.predict import design_rows, predict
from pipeline.hedonic.shape import levels_alike
from pipeline.hedonic.shared_errors import SharedErrors
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair
from tests import drawn

COUNT, SILHOUETTES = 6000, 2000
LARGE = 2_000_000
"""Fewer numbers than this are kept of a covariance of 60 million."""


@cache
def fitted() -> Fit:
    return drawn.fit_to(sales())


def sales() -> pl.DataFrame:
    return drawn.sales_of_many(COUNT, silhouettes=SILHOUETTES, colourways=8)


def pairs() -> pl.DataFrame:
    """Return the factors of a common silhouette, a rare one and one never sold, in two grades each."""
    names = ("Silhouette 0007", "Silhouette 1234", "Silhouette 9999")
    described = [Pair(silhouette=name, era="first", grade=grade) for name in names for grade in (6.0, 8.0)]
    return pair_factors(described, as_of=date(2026, 10, 1))


def test_few_numbers_are_kept_of_the_covariance() -> None:
    parts = fitted().covariance
    assert fitted().layout.size > 7000
    assert parts.blocks.nnz + parts.links.nnz + parts.middle.size < LARGE


def test_the_effects_of_silhouettes_are_local_and_what_they_share_is_not() -> None:
    local = set(fitted().covariance.local.tolist())
    owned = fitted().labels.filter(pl.col("position").is_in(list(local)))["term"].unique().sort().to_list()
    assert owned == ["colourway", "era in silhouette", "silhouette"]


def test_few_numbers_are_stored_of_a_fit() -> None:
    _, arrays = to_document(fitted())
    assert sum(array.size for array in arrays.values()) < LARGE


def test_a_stored_fit_of_many_silhouettes_predicts_the_same() -> None:
    assert_frame_equal(predict(read_again(), pairs()), predict(fitted(), pairs()))


def read_again(damaged: str = "", place: int = 0, value: float = 0.0) -> Fit:
    """Return the fit as it is read again, with one number of one of its arrays damaged."""
    description, arrays = to_document(fitted())
    if damaged:
        arrays[damaged] = arrays[damaged].copy()
        arrays[damaged].flat[place] = value
    return from_document(json.loads(json.dumps(description)), arrays)


@pytest.mark.parametrize(
    ("name", "place", "value", "told"),
    [
        ("local", 3, 0.5, "local: not a list of whole numbers"),
        ("local", 3, 0.0, "local: not different coefficients of"),
        ("local", 3, 1e7, "local: not different coefficients of"),
        ("blocks", 1, 9.0, "blocks: (not symmetric|no covariance)"),
        ("blocks", 0, -1.0, r"blocks: no covariance \(a variance below 0\)"),
        ("blocks", 0, np.nan, "blocks: a number that is not finite"),
        ("blocks starts", 0, 1.0, "blocks starts: they do not share out"),
        ("blocks columns", 0, 5000.0, "blocks columns: not rising numbers below"),
        ("links", 0, np.inf, "links: a number that is not finite"),
        ("links starts", 5, 0.0, "links starts: they do not share out"),
        ("links columns", 0, -1.0, "links columns: not rising numbers below"),
    ],
)
def test_a_damaged_part_of_the_covariance_is_reported_by_its_name(
    name: str, place: int, value: float, told: str
) -> None:
    with pytest.raises(FitError, match=f"the stored fit is damaged: fit.{told}"):
        read_again(name, place, value)


def test_a_part_of_the_covariance_that_is_missing_is_reported() -> None:
    description, arrays = to_document(fitted())
    del arrays["links"]
    with pytest.raises(FitError, match="the stored fit is damaged: fit: the array 'links' is missing"):
        from_document(json.loads(json.dumps(description)), arrays)


def test_blocks_that_hang_together_by_nothing_are_reported() -> None:
    description, arrays = to_document(fitted())
    last = len(arrays["blocks columns"]) - 1
    arrays |= {name: array[:last] for name, array in arrays.items() if name in ("blocks", "blocks columns")}
    arrays["blocks starts"] = np.minimum(arrays["blocks starts"], last)
    with pytest.raises(
        FitError, match=r"the stored fit is damaged: fit.blocks: (not symmetric|they are not whole)"
    ):
        from_document(json.loads(json.dumps(description)), arrays)


def test_the_errors_that_sales_share_are_drawn_with_the_covariance_of_the_fit() -> None:
    some = sales().filter(pl.col("silhouette").is_in(["Silhouette 0007", "Silhouette 1234"])).head(8)
    errors = SharedErrors(fitted(), some, apart={}).draw(np.random.default_rng(5), 40_000)
    rows = design_rows(fitted(), some)
    expected = fitted().covariance.between(rows, rows)
    assert np.cov(errors) == pytest.approx(expected, abs=0.03 * expected.max())


def test_the_variance_of_a_value_is_that_of_its_design_row() -> None:
    some = sales().tail(50)
    expected = fitted().covariance.row_variances(design_rows(fitted(), some))
    assert predict(fitted(), some)["estimation_variance"].to_list() == pytest.approx(expected.tolist())


def test_a_curve_is_held_to_a_rise_beside_many_silhouettes() -> None:
    """The grades valued alike differ by nothing, with certainty."""
    held = drawn.fit_to(drawn.falling_in_grade(sales()))
    places = held.labels.filter(pl.col("term") == "grade")
    position = dict(zip(places["level"], places["position"].fill_null(held.layout.size), strict=True))
    steps = np.array([[position[upper], position[lower]] for lower, upper in levels_alike(held, "grade")])
    rows = sparse_rows(steps, np.tile([1.0, -1.0], (len(steps), 1)), held.layout.size)
    assert held.covariance.row_variances(rows) == pytest.approx(np.zeros(len(steps)), abs=1e-12)
