"""A stored fit that is damaged is told as one, never used and never a traceback."""

import copy
import io
import json
import warnings
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.care.doctor import examine
from pipeline.answers.fit.run import fit_ledger
from pipeline.errors import FitError
from pipeline.hedonic.second_stage import SecondStage
from pipeline.hedonic.trend import NO_TREND, SHAPES, TrendStage, find_trend
from pipeline.ledger import open_ledger
from pipeline.market.bands import value_pairs
from pipeline.market.fitted_market import from_stored, to_stored
from pipeline.market.model import FACTORS
from pipeline.market.pair import Pair
from pipeline.workspace import Workspace
from tests import drawn
from tests.faults import make_folder

Tree = dict[str, Any]
PAIR = Pair(silhouette="Gannet Hi", era="first", grade=8.0)
NOW = datetime(2026, 6, 30, 12, tzinfo=UTC)


@cache
def _stored() -> tuple[str, bytes]:
    """Return a fit as it is stored, with trees and a trend."""
    fitted = drawn.with_trees(drawn.fitted(), drawn.sales(1500, 11))
    trend = find_trend(fitted.fit, "month", SHAPES[0])
    stage = TrendStage(True, *SHAPES[0], 0.002, 0.001, 0.9, 0.3, 0.002)
    return to_stored(replace(fitted, fit=replace(fitted.fit, trend=trend), trend=stage))


def _without_digest(document: str) -> Tree:
    """Return the document without the digest of its arrays, as an earlier version stored it."""
    tree: Tree = json.loads(document)
    del tree["arrays_sha256"]
    return tree


def _put(*path: str | int, value: object) -> Callable[[Tree], None]:
    def damage(tree: Tree) -> None:
        node: Any = tree
        for step in path[:-1]:
            node = node[step]
        node[path[-1]] = value

    return damage


def _dropped(*path: str | int) -> Callable[[Tree], None]:
    def damage(tree: Tree) -> None:
        node: Any = tree
        for step in path[:-1]:
            node = node[step]
        del node[path[-1]]

    return damage


DAMAGES: dict[str, Callable[[Tree], None]] = {
    "no circumstances": _dropped("circumstances"),
    "no fit": _dropped("fit"),
    "a fit that is a list": _put("fit", value=[]),
    "no scatter": _put("scatter", value=None),
    "a day that is none": _put("circumstances", "fitted_on", value="2026-13-45"),
    "the last sale before the first": _put("circumstances", "last_sale", value="1999-01-01"),
    "a currency of four letters": _put("circumstances", "currency", value="EURO"),
    "a share that is a word": _put("circumstances", "second_stage", "share", value="half"),
    "a share of trees on prices that is never tried": _put(
        "circumstances", "second_stage", "prices", value=0.3
    ),
    "a shape below zero": _put("shapes", 0, 1, value=[-4]),
    "a shape that is too large": _put("shapes", 0, 1, value=[10**12]),
    "an array of no part": _put("shapes", 0, 0, value="fit/other"),
    "two arrays of one name": _put("shapes", 1, 0, value="fit/coefficients"),
    "a term less": _dropped("fit", "specification", "terms", 3),
    "a kind of term that is none": _put("fit", "specification", "terms", 0, "kind", value="cubic"),
    "a column that no pair has": _put("fit", "specification", "terms", 0, "columns", value=["price"]),
    "two terms of one name": _put("fit", "specification", "terms", 1, "name", value="silhouette"),
    "a level less": _dropped("fit", "factors", 0, "keys", 0),
    "a level twice": _put("fit", "factors", 0, "keys", 0, value="Dunlin"),
    "a count of rows less": _dropped("fit", "factors", 0, "rows", 0),
    "a start elsewhere": _put("fit", "factors", 2, "start", value=3),
    "a reference that is no level": _put("fit", "factors", 2, "references", value=[99]),
    "places that do not rise": _put("fit", "factors", 4, "axis", 0, value=400.0),
    "no places for a curve": _put("fit", "factors", 4, "axis", value=None),
    "lists where there are none": _put("fit", "factors", 0, "many", value=True),
    "a penalty elsewhere": _put("fit", "penalties", 0, "start", value=2),
    "a penalty of no term": _put("fit", "penalties", 0, "term", value="weather"),
    "a lambda below zero": _put("fit", "lambdas", "silhouette", value=-1.0),
    "no lambda": _dropped("fit", "lambdas", "silhouette"),
    "a variance that is not finite": _put("fit", "sigma2", value=float("nan")),
    "a variance below zero": _put("fit", "sigma2", value=-0.1),
    "zero degrees of freedom": _put("fit", "robust", "degrees_of_freedom", value=0.0),
    "a trend of a term that is no walk": _put("fit", "trend", "term", value="silhouette"),
    "a lag less than there are months": _dropped("fit", "trend", "lags", 0),
    "a month ahead of the market": _put("fit", "trend", "lags", 0, value=-1.0),
    "a trend that never ends": _put("fit", "trend", "damping", value=1.0),
    "a trend over no months": _put("fit", "trend", "months", value=0),
    "a slope of nothing": _put("fit", "trend", "span", value=0.0),
    "a trend that is not in the fit": _put("fit", "trend", value=None),
    "a trend that is used and is not": _put("circumstances", "trend", "used", value=False),
    "a group without a name": _put("calibration", "names", value=[]),
    "limits in reverse": _put("calibration", "settled", 0, value=[0.5, 2.0, -2.0]),
    "trees of an attribute that no fit has": _put("trees", "attributes", 0, value="weather"),
    "a start of trees that is a word": _put("trees", "start", value="low"),
    "no description of the trees": _put("trees", value=None),
    "a level above one": _put("calibration", "settled", 0, value=[1.5, -2.0, 2.0]),
    "something that no version wrote": _put("fit", "more", value=1),
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=list(DAMAGES))
def test_a_damaged_document_is_reported(damage: Callable[[Tree], None]) -> None:
    document, arrays = _stored()
    tree = _without_digest(document)
    damage(tree)
    with pytest.raises(FitError, match=r"the stored fit is damaged: .*\nrun `pairband fit` again"):
        from_stored(json.dumps(tree), arrays)


@pytest.mark.parametrize("document", [None, "", "{", "[]", "3", "[" * 100_000])
def test_a_document_that_is_no_object_is_reported(document: str | None) -> None:
    with pytest.raises(FitError, match="the stored fit is damaged: its document is no"):
        from_stored(document, _stored()[1])


def test_another_version_of_a_fit_is_reported() -> None:
    document, arrays = _stored()
    tree = json.loads(document)
    tree["fit"]["format"] = 99
    with pytest.raises(FitError, match=r"has format 99, not \d+\nrun `pairband fit` again"):
        from_stored(json.dumps(tree), arrays)


def _packed(array: np.ndarray[Any, Any]) -> bytes:
    file = io.BytesIO()
    np.save(file, array, allow_pickle=array.dtype == object)
    return file.getvalue()


def _claiming_more(packed: bytes) -> bytes:
    """Return arrays whose header claims the memory of a thousand machines."""
    flat = np.load(io.BytesIO(packed))
    told, huge = str(flat.size).encode(), str(10**15).encode()
    head = packed[:128].replace(told + b",)", huge + b",)")
    return head[: 128 - (len(head) - 128)].rstrip() + b"\n" + packed[128:]


ARRAYS: dict[str, Callable[[bytes], bytes | None]] = {
    "nothing": lambda packed: None,
    "no bytes": lambda packed: b"",
    "half": lambda packed: packed[: len(packed) // 2],
    "a byte less": lambda packed: packed[:-1],
    "other bytes": lambda packed: b"x" * len(packed),
    "another kind of number": lambda packed: _packed(np.load(io.BytesIO(packed)).astype(np.float32)),
    "objects": lambda packed: _packed(np.array([{"a": 1}], dtype=object)),
    "a table": lambda packed: _packed(np.load(io.BytesIO(packed))[None, :]),
    "a claim of too much": _claiming_more,
}


@pytest.mark.parametrize("damage", ARRAYS.values(), ids=list(ARRAYS))
def test_damaged_arrays_are_reported(damage: Callable[[bytes], bytes | None]) -> None:
    document, arrays = _stored()
    with pytest.raises(FitError, match="the stored fit is damaged: its arrays"):
        from_stored(json.dumps(_without_digest(document)), damage(arrays))


def test_a_number_that_changed_since_it_was_stored_is_reported() -> None:
    document, arrays = _stored()
    changed = bytearray(arrays)
    changed[len(changed) // 2] ^= 1
    with pytest.raises(FitError, match="its arrays are not those that were stored with it"):
        from_stored(document, bytes(changed))


def _changed(name: str, change: Callable[[np.ndarray[Any, Any]], object]) -> tuple[str, bytes]:
    """Return a stored fit with one array changed in place."""
    document, packed = _stored()
    tree, flat, start = _without_digest(document), np.load(io.BytesIO(packed)), 0
    for own, shape in tree["shapes"]:
        size = int(np.prod(shape))
        if own == name:
            change(flat[start : start + size].reshape(shape))
        start += size
    return json.dumps(tree), _packed(flat)


def _set(*place: int, value: float) -> Callable[[np.ndarray[Any, Any]], None]:
    def change(array: np.ndarray[Any, Any]) -> None:
        array[place] = value

    return change


@pytest.mark.parametrize(
    ("name", "change", "told"),
    [
        ("fit/coefficients", _set(3, value=np.nan), "coefficients: a number that is not finite"),
        ("fit/covariance", _set(3, 4, value=9.0), "covariance: not symmetric"),
        ("fit/covariance", _set(3, 3, value=-1.0), "covariance: no covariance"),
        ("fit/cells", _set(3, value=0.5), "cells: not a list of whole numbers"),
        ("fit/cells", _set(3, value=2.0), "cells: not rising cells"),
        ("fit/cells", _set(-1, value=1e6), "cells: not rising cells"),
        ("scatter/covariance", _set(2, 2, value=np.inf), "covariance: a number that is not finite"),
        ("calibration/periods", _set(0, value=1e9), "periods: they run backwards"),
        ("calibration/groups", _set(0, value=99.0), "groups: a score is of a group without a name"),
        ("calibration/factors", _set(0, 0, value=0.0), "factors: a factor is not above 0"),
        ("calibration/scores", _set(0, value=np.nan), "scores: a number that is not finite"),
        ("trees/value", _set(0, value=np.nan), "trees: its arrays are not those of trees"),
        ("trees/left", _set(0, value=0.0), "trees: a node leads to none below it"),
    ],
)
def test_a_damaged_array_is_reported_by_its_name(
    name: str, change: Callable[[np.ndarray[Any, Any]], None], told: str
) -> None:
    with pytest.raises(FitError, match=f"the stored fit is damaged: .*{told}"):
        from_stored(*_changed(name, change))


def test_the_second_stage_is_read_back_as_it_was_stored() -> None:
    fitted = drawn.with_trees(drawn.fitted(), drawn.sales(1500, 11))
    factors = drawn.sales(1500, 11).select(*FACTORS).head(200)

    read = from_stored(*to_stored(fitted))

    assert read.second_stage == fitted.second_stage
    np.testing.assert_array_equal(
        value_pairs(read, factors, (0.8,)).correction, value_pairs(fitted, factors, (0.8,)).correction
    )


def test_a_fit_that_counts_the_nearest_sales_has_to_be_made_again() -> None:
    older = replace(drawn.fitted(), second_stage=SecondStage(True, 0.6, 0.01, 0.001))

    with pytest.raises(FitError, match="of an earlier version"):
        from_stored(*to_stored(older))


def test_trees_that_ask_for_worth_alone_have_to_be_grown_again() -> None:
    document, arrays = _stored()
    tree = _without_digest(document)
    del tree["trees"]["questions"]

    with pytest.raises(FitError, match="of an earlier version"):
        from_stored(json.dumps(tree), arrays)


def test_bands_that_rank_the_scores_of_a_window_have_to_be_calibrated_again() -> None:
    document, arrays = _stored()
    tree = _without_digest(document)
    tree["calibration"]["window"] = 12

    with pytest.raises(FitError, match="of an earlier version"):
        from_stored(json.dumps(tree), arrays)


def test_trees_that_ask_other_questions_than_the_fit_answers_are_damaged() -> None:
    document, arrays = _stored()
    tree = _without_digest(document)
    tree["trees"]["questions"][-1]["levels"] += 1

    with pytest.raises(FitError, match="they ask other questions than the fit answers"):
        from_stored(json.dumps(tree), arrays)


def test_a_covariance_of_another_size_is_reported() -> None:
    document, arrays = _stored()
    tree = _without_digest(document)
    shapes = dict(tree["shapes"])
    rows = shapes["fit/covariance"][0]
    tree["shapes"] = [
        [name, [rows * rows] if name == "fit/covariance" else to] for name, to in shapes.items()
    ]
    with pytest.raises(FitError, match=r"covariance: has the shape \(\d+,\), and should have \(\d+, \d+\)"):
        from_stored(json.dumps(tree), arrays)


def _places(node: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Return the path of every part of a document; of a long list, of its first, middle and last entry."""
    own = [path] if path else []
    if isinstance(node, dict):
        return own + [place for key, value in node.items() for place in _places(value, (*path, key))]
    if isinstance(node, list) and node:
        kept = sorted({0, len(node) // 2, len(node) - 1})
        return own + [place for number in kept for place in _places(node[number], (*path, number))]
    return own


JUNK: tuple[object, ...] = (None, "x", "", -1, 0, 1.5, True, [], {}, float("nan"), 10**30, 1e308)


@settings(max_examples=300, derandomize=True, deadline=None)
@given(chosen=st.integers(0, 10**6), junk=st.sampled_from(JUNK))
def test_whatever_stands_in_a_document_is_reported_or_can_be_valued_with(chosen: int, junk: object) -> None:
    document, arrays = _stored()
    tree = json.loads(document)
    places = _places(tree)
    _put(*places[chosen % len(places)], value=copy.deepcopy(junk))(tree)
    try:
        fitted = from_stored(json.dumps(tree), arrays)
    except FitError:
        return
    sales = drawn.sales(1500, 11).filter(pl.col("silhouette") == PAIR.silhouette)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        value = appraise(PAIR, fitted, drawn.scenario_market(), sales, as_of=date(2026, 10, 1))
    assert np.isfinite(value.median)


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_folder(tmp_path_factory.mktemp("stored") / "shop", sales=24)
    fit_ledger(folder.ledger, folder.path / "market.toml", fitted_at=NOW)
    return folder.path


DAMAGED_ROWS = (
    "UPDATE fits SET document = NULL",
    "UPDATE fits SET arrays = NULL",
    "UPDATE fits SET document = document[1:400]",
    "UPDATE fits SET document = replace(document, '\"fit/covariance\"', '\"fit/covariances\"')",
)


@pytest.mark.parametrize("damage", DAMAGED_ROWS)
def test_a_damaged_fit_in_the_ledger_is_reported_when_it_is_read(
    fitted: Path, tmp_path: Path, damage: str
) -> None:
    ledger_path = tmp_path / "pairband.duckdb"
    ledger_path.write_bytes((fitted / "pairband.duckdb").read_bytes())
    with open_ledger(ledger_path) as ledger:
        ledger.connection.execute(damage).fetchall()
    with (
        Workspace(ledger_path, fitted / "market.toml") as workspace,
        pytest.raises(FitError, match="the stored fit is damaged"),
    ):
        _ = workspace.fitted


@pytest.mark.parametrize("damage", DAMAGED_ROWS)
def test_the_doctor_tells_a_damaged_fit(fitted: Path, tmp_path: Path, damage: str) -> None:
    ledger_path = tmp_path / "pairband.duckdb"
    ledger_path.write_bytes((fitted / "pairband.duckdb").read_bytes())
    with open_ledger(ledger_path) as ledger:
        ledger.connection.execute(damage).fetchall()
    problems = examine(ledger_path, fitted / "market.toml", now=NOW).problems
    assert "run `pairband fit` again." in [
        problem.remedy for problem in problems if "the stored fit is damaged" in problem.what
    ]


def test_a_fit_stored_with_the_names_of_before_is_refused_with_what_to_do() -> None:
    document, arrays = _stored()
    tree = _without_digest(document)
    tree["fit"] |= {"format": 1}
    tree["fit"]["robust"]["tails"] = tree["fit"]["robust"].pop("degrees_of_freedom")
    tree["calibration"]["tails"] = tree["calibration"].pop("degrees_of_freedom")
    with pytest.raises(FitError, match=r"has format 1, not 4\nrun `pairband fit` again"):
        from_stored(json.dumps(tree), arrays)


def test_a_trend_is_read_as_it_was_stored() -> None:
    fitted = drawn.fitted()

    again = from_stored(*_stored())

    assert again.fit.trend == find_trend(fitted.fit, "month", SHAPES[0])
    assert again.fit.trend is not None
    assert again.trend == TrendStage(True, *SHAPES[0], 0.002, 0.001, 0.9, 0.3, 0.002)


def test_a_fit_stored_before_there_were_trends_is_read_without_one() -> None:
    document, arrays = to_stored(drawn.fitted())
    tree = json.loads(document)
    del tree["fit"]["trend"], tree["scatter"]["trend"], tree["circumstances"]["trend"]

    again = from_stored(json.dumps(tree), arrays)

    assert again.fit.trend is None
    assert again.trend == NO_TREND
