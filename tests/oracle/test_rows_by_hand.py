"""Design rows and what is predicted from them, worked out by hand on a fit whose numbers were written down.

Between two levels of a walk stands a Brownian bridge, t (h - t) / h steps; beyond its ends t steps. Twice
integrated noise about a chord has t² (h - t)² / 3h between the ends of it and t³/3 + t² h/3 beyond them.
"""

from collections.abc import Sequence
from functools import cache

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray
from polars.datatypes import DataType
from polars.testing import assert_frame_equal

from pipeline.errors import FitError
from pipeline.hedonic.convergence import Convergence
from pipeline.hedonic.design import find_levels_among
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.index import period_index
from pipeline.hedonic.layout import Layout
from pipeline.hedonic.predict import (
    design_rows,
    differences,
    log_prices,
    log_prices_of_rows,
    predict,
    predict_both,
    predict_rows,
    step_variance,
    term_steps,
)
from pipeline.hedonic.rows import (
    TermRows,
    rows_by_term,
    rows_of_term,
    stack,
    unseen_variance,
)
from pipeline.hedonic.specification import Specification, Term
from tests.inverses import in_full

Array = NDArray[np.float64]

MANY = 5000
"""So many rows are looked up by the engine and multiplied out in several parts."""

TERMS = (
    Term("silhouette", "pooled", ("silhouette",)),
    Term("box", "level", ("box",), "none"),
    Term("size", "curve", ("foot_mm",), "270"),
    Term("month", "walk", ("month",)),
    Term("parts", "flags", ("parts",)),
    Term("wear", "linear", ("wear",)),
)
SOLD = pl.DataFrame(
    {
        "silhouette": ["Gannet Hi", "Gannet Hi", "Gannet Hi", "Plover Lo"],
        "box": ["lid", "none", "none", "none"],
        "foot_mm": [260, 270, 290, 290],
        "month": [0, 2, 6, 6],
        "parts": [["tags"], ["laces", "tags"], [], ["tags"]],
        "wear": [1.0, 2.0, 4.0, 5.0],
    }
)
EFFECTS = (5.0, 0.5, -0.25, 0.125, -0.4, 0.6, -0.3, -0.1, 0.0625, 0.25, -0.05)
"""Intercept; Gannet Hi, Plover Lo; lid; 260, 290 mm; months 0, 2; laces, tags; a unit of wear."""

LAMBDAS = {"silhouette": 2.0, "size": 0.08 / 6.75, "month": 4.0}
"""With sigma² = 0.08: a pool of 0.04, 0.002 for a millimetre cubed (mean step 15), 0.02 a month."""

WIDER = (0.8 / 0.18**0.5 / 1.2815515655446004) ** 2
"""The squared 90 % quantile of Student-t(2), 0.8 / √(2 × 0.9 × 0.1), over that of the Gaussian."""

NEW = WIDER * (0.05**2 + 0.04) / 2
POOL = NEW + (NEW - 0.04) / 2
"""What a new silhouette may differ by after two, 0.05 believed beforehand, with what the mean of two errs more."""


def by_hand(
    sold: pl.DataFrame,
    terms: Sequence[Term],
    effects: Sequence[float],
    lambdas: dict[str, float],
    left_out: Sequence[int] = (),
) -> Fit:
    """Return a fit with these effects, in the order of the levels but the references and the cells left out."""
    design = find_levels_among([sold] * len(terms), Specification("log_price", tuple(terms)), None)
    pinned = {factor.start + local for factor in design.factors for local in factor.references} | {*left_out}
    cells = np.array([cell for cell in range(design.size) if cell not in pinned], dtype=np.int64)
    positions = np.full(design.size + 1, len(cells), dtype=np.int64)
    positions[cells] = np.arange(len(cells))
    root = np.random.default_rng(len(cells)).normal(0, 0.1, (len(cells), len(cells)))
    assert len(effects) == len(cells)
    return Fit(
        specification=design.specification,
        design=design,
        layout=Layout(cells, positions, (), ()),
        coefficients=np.array(effects),
        covariance=in_full(root @ root.T),
        sigma2=0.08,
        residual_scale=0.28,
        robust=None,
        lambdas=lambdas,
        edf=float(len(cells)),
        rows=sold.height,
        convergence=Convergence(0, 0, 0.0, True, 0.0, (), 0.0),
        downweighted=pl.DataFrame(),
    )


@cache
def fitted() -> Fit:
    return by_hand(SOLD, TERMS, EFFECTS, LAMBDAS)


@cache
def bare() -> Fit:
    """Return a fit of one term that no record carried a level of."""
    return by_hand(SOLD.clear(), (Term("box", "level", ("box",)),), (5.0,), {})


def pairs(**changes: Sequence[object]) -> pl.DataFrame:
    """Return a pair at all references, with no parts and no wear, and as many changes of it as are given."""
    known: dict[str, object] = {
        "silhouette": "Gannet Hi",
        "box": "none",
        "foot_mm": 270,
        "month": 6,
        "parts": [],
        "wear": 0.0,
    }
    types: dict[str, DataType] = {
        "parts": pl.List(pl.String),
        "silhouette": pl.String(),
        "box": pl.String(),
        "wear": pl.Float64(),
    }
    rows = len(next(iter(changes.values()))) if changes else 1
    return pl.DataFrame(
        {name: list(changes.get(name, [value] * rows)) for name, value in known.items()},
        schema_overrides=types,
    )


def rows_of(
    term: str, found: Fit | None = None, frame: pl.DataFrame | None = None, **changes: Sequence[object]
) -> TermRows:
    fit = fitted() if found is None else found
    rows = pairs(**changes) if frame is None else frame
    return rows_of_term(fit, fit.factor(term), rows)


def effects_of(found: Fit, term: TermRows) -> list[float]:
    padded = np.append(found.coefficients, 0.0)
    return [float(effect) for effect in np.sum(padded[term.positions] * term.values, axis=1)]


def mixed(rows: int = 40, seed: int = 3) -> pl.DataFrame:
    """Return pairs at, between and beyond the levels, some of them never sold."""
    draws = np.random.default_rng(seed)
    silhouettes = np.array(["Gannet Hi", "Plover Lo", "Dunlin Mid", None])
    boxes = np.array(["lid", "none", "crate"])
    parts = [[], ["tags"], ["laces", "tags"], ["heel"], None]
    return pairs(
        silhouette=[silhouettes[place] for place in draws.integers(0, 4, rows)],
        box=[boxes[place] for place in draws.integers(0, 3, rows)],
        foot_mm=draws.choice([250, 260, 265, 270, 280, 290, 297], rows).tolist(),
        month=draws.choice([-2, 0, 1, 2, 5, 6, 9], rows).tolist(),
        parts=[parts[place] for place in draws.integers(0, 5, rows)],
        wear=[(1.0, 2.5, None)[place] for place in draws.integers(0, 3, rows)],
    )


def dense(positions: NDArray[np.int64], values: Array, size: int) -> Array:
    rows = np.zeros((len(positions), size + 1))
    np.add.at(rows, (np.arange(len(positions))[:, None], positions), values)
    return rows[:, :size]


# a level of its own


def test_a_known_level_has_its_effect_and_an_unseen_one_that_of_the_pool() -> None:
    found = rows_of("silhouette", silhouette=["Plover Lo", "Dunlin Mid", None, "Gannet Hi"])
    assert effects_of(fitted(), found) == [-0.25, 0, 0, 0.5]
    assert found.extra == pytest.approx([0, POOL, POOL, 0])
    assert found.unseen.tolist() == [False, True, True, False]
    assert found.extrapolated.tolist() == [False] * 4
    assert found.keys.to_list() == ["Plover Lo", "Dunlin Mid", "unknown", "Gannet Hi"]
    assert found.records.tolist() == [1, 0, 0, 3]
    assert found.values.tolist() == [[1]] * 4
    assert found.term == "silhouette"


def test_an_unseen_box_has_the_mean_square_of_the_boxes_by_their_sales() -> None:
    found = rows_of("box", box=["crate", "lid", "none"])
    assert found.extra.tolist() == [0.125**2 / 4, 0, 0]  # one lid and three of none
    assert effects_of(fitted(), found) == [0, 0.125, 0]
    assert found.records.tolist() == [0, 1, 3]


def test_an_unseen_part_has_the_mean_square_of_the_parts_each_alike() -> None:
    spread = (0.0625**2 + 0.25**2) / 2
    found = rows_of("parts", parts=[["heel"], ["heel", "tags", "sole"], ["laces", "tags"], [], None])
    assert found.extra == pytest.approx([spread, 2 * spread, 0, 0, spread], rel=1e-12)
    assert found.unseen.tolist() == [True, True, False, False, True]
    assert found.extrapolated.tolist() == [False] * 5
    assert effects_of(fitted(), found) == [0, 0.25, 0.3125, 0, 0]


def test_parts_count_the_fewest_sales_behind_them_and_none_all_sales() -> None:
    found = rows_of("parts", parts=[["tags"], ["tags", "laces"], ["tags", "heel"], []])
    assert found.records.tolist() == [3, 1, 0, 4]
    assert found.keys.to_list() == ["tags", "laces + tags", "heel + tags", ""]
    assert found.term == "parts"


def test_as_many_slots_are_used_as_the_pair_with_the_most_parts_has() -> None:
    found = rows_of("parts", parts=[["tags"], ["tags", "laces"]])
    assert found.positions.tolist() == [[9, 11], [9, 8]]
    assert rows_of("parts", parts=[[], []]).positions.tolist() == [[11], [11]]


def test_no_pairs_have_no_parts_written_as_text() -> None:
    found = rows_of("parts", frame=pairs().clear())
    assert found.keys.dtype == pl.String
    assert found.keys.to_list() == []


def test_a_pool_without_a_variance_adds_what_is_believed() -> None:
    unbound = by_hand(SOLD, TERMS[:1], (5.0, 0.5, -0.25), {})
    assert unseen_variance(unbound, unbound.factor("silhouette")) == pytest.approx(
        1.5 * WIDER * 0.05**2 / 2, rel=1e-6
    )


def test_a_term_without_levels_adds_nothing() -> None:
    assert unseen_variance(bare(), bare().factor("box")) == 0


@pytest.mark.parametrize("rows", [3, MANY])
def test_a_term_without_levels_has_seen_nothing(rows: int) -> None:
    found = rows_of("box", bare(), pairs(box=["lid"] * rows))
    assert found.unseen.tolist() == [True] * rows
    assert found.positions.tolist() == [[1]] * rows
    assert found.extra.tolist() == [0] * rows


@pytest.mark.parametrize("term", [term.name for term in TERMS])
def test_many_pairs_are_laid_out_as_a_few_are(term: str) -> None:
    some = mixed(20)
    few, many = rows_of(term, frame=some), rows_of(term, frame=pl.concat([some] * (MANY // 20)))
    for name in ("positions", "values", "extra", "unseen", "extrapolated", "records"):
        once = getattr(few, name)
        assert np.array_equal(getattr(many, name), np.concatenate([once] * (MANY // 20)))
    assert many.keys.to_list() == few.keys.to_list() * (MANY // 20)


# a slope


def test_a_slope_is_carried_as_often_as_the_number_says() -> None:
    found = rows_of("wear", wear=[3.0, 0.0, -2.5])
    assert found.values.tolist() == [[3], [0], [-2.5]]
    assert found.positions.tolist() == [[10]] * 3
    assert found.extra.tolist() == [0, 0, 0]
    assert found.unseen.tolist() == found.extrapolated.tolist() == [False] * 3
    assert found.records.tolist() == [4, 4, 4]
    assert found.keys.to_list() == ["3", "0", "-2.5"]
    assert found.term == "wear"


def test_an_unknown_number_stands_at_the_mean_with_the_spread_of_the_slope() -> None:
    """Wear 1, 2, 4 and 5: mean 3, variance (4 + 1 + 1 + 4) / 4 = 2.5; slope −0.05."""
    found = rows_of("wear", wear=[None, 3.0])
    assert effects_of(fitted(), found) == pytest.approx([-0.15, -0.15])
    assert found.extra == pytest.approx([0.05**2 * 2.5, 0])
    assert found.unseen.tolist() == [True, False]
    assert found.records.tolist() == [0, 4]


def test_a_slope_that_was_left_out_has_no_spread() -> None:
    flat = by_hand(SOLD, TERMS[-1:], (5.0,), {}, left_out=(1,))
    found = rows_of("wear", flat, wear=[None, 4.0])
    assert found.extra.tolist() == [0, 0]
    assert effects_of(flat, found) == [0, 0]


def test_an_unknown_number_that_was_seen_has_an_effect_of_its_own() -> None:
    sold = SOLD.with_columns(pl.Series("wear", [1.0, None, 4.0, 5.0]))
    found = by_hand(sold, TERMS[-1:], (5.0, -0.05, 0.75), {})
    wear = rows_of("wear", found, wear=[None, 4.0])
    assert effects_of(found, wear) == pytest.approx([0.75, -0.2])
    assert wear.values.tolist() == [[1], [4]]
    assert wear.extra.tolist() == [0, 0]
    assert wear.unseen.tolist() == [False, False]
    assert wear.records.tolist() == [1, 3]


# a walk


@pytest.mark.parametrize(
    ("month", "effect", "steps", "beyond"),
    [
        (0, -0.3, 0, False),
        (1, -0.2, 1 / 2, False),  # 1 · 1 / 2
        (2, -0.1, 0, False),
        (3, -0.075, 3 / 4, False),  # 1 · 3 / 4
        (4, -0.05, 1, False),  # 2 · 2 / 4
        (6, 0, 0, False),
        (8, 0, 2, True),
        (-3, -0.3, 3, True),
    ],
)
def test_a_walk_is_a_bridge_between_its_months_and_moves_on_beyond(
    month: int, effect: float, steps: float, beyond: bool
) -> None:
    found = rows_of("month", month=[month])
    assert effects_of(fitted(), found) == pytest.approx([effect])
    assert found.extra == pytest.approx([0.02 * steps])  # sigma² / lambda = 0.08 / 4
    assert found.extrapolated.tolist() == [beyond]
    assert found.unseen.tolist() == [False]
    assert found.keys.to_list() == [str(month)]
    assert found.records.tolist() == [{0: 1, 2: 1, 6: 2}.get(month, 0)]


def test_a_month_that_was_seen_stands_beside_months_that_were_not() -> None:
    found = rows_of("month", month=[3, 6, 0, 9])
    assert found.positions.tolist() == [[7, 11], [11, 11], [6, 11], [7, 11]]
    assert found.values.tolist() == [[0.75, 0.25], [1, 0], [1, 0], [0, 1]]
    assert found.term == "month"


def test_an_unknown_month_that_was_never_sold_is_unseen() -> None:
    found = rows_of("month", month=[None, 3])
    spread = (0.3**2 + 0.1**2) / 4  # of the four sales
    assert found.unseen.tolist() == [True, False]
    assert found.extra == pytest.approx([spread, 0.015])
    assert found.values.tolist() == [[0, 0], [0.75, 0.25]]
    assert found.positions.tolist() == [[11, 11], [7, 11]]
    assert found.extrapolated.tolist() == [False, False]


def test_a_walk_without_a_variance_stands_still() -> None:
    still = by_hand(SOLD, TERMS[3:4], (5.0, -0.3, -0.1), {})
    found = rows_of("month", still, month=[3, 9])
    assert found.extra.tolist() == [0, 0]
    assert effects_of(still, found) == pytest.approx([-0.075, 0])


# a curve


@pytest.mark.parametrize(
    ("foot_mm", "effect", "cubes", "beyond"),
    [
        (260, -0.4, 0, False),
        (265, -0.2, 625 / 30, False),  # 5² · 5² / (3 · 10)
        (270, 0, 0, False),
        (275, 0.15, 93.75, False),  # 5² · 15² / (3 · 20)
        (300, 0.9, 1000, True),  # 10³ / 3 + 10² · 20 / 3
        (254, -0.64, 192, True),  # 6³ / 3 + 6² · 10 / 3
    ],
)
def test_a_curve_is_straight_between_its_sizes_and_beyond_and_less_certain(
    foot_mm: int, effect: float, cubes: float, beyond: bool
) -> None:
    found = rows_of("size", foot_mm=[foot_mm])
    assert effects_of(fitted(), found) == pytest.approx([effect])
    assert found.extra == pytest.approx([0.002 * cubes])  # 6.75 / 15³
    assert found.extrapolated.tolist() == [beyond]
    assert found.unseen.tolist() == [False]


# a walk and a curve for each era


ERAS = pl.DataFrame(
    {
        "era": ["late", "early", "early", "early"],
        "foot_mm": [270, 260, 270, 290],
        "month": [6, 0, 2, 6],
    }
)
BY_ERA = (
    Term("size in era", "curve", ("foot_mm", "era"), "270"),
    Term("month in era", "walk", ("month", "era")),
)


@cache
def by_era() -> Fit:
    lambdas = {"size in era": LAMBDAS["size"], "month in era": LAMBDAS["month"]}
    return by_hand(ERAS, BY_ERA, (5.0, -0.4, 0.6, -0.3, -0.1), lambdas)


def in_era(
    era: Sequence[str | None], foot_mm: Sequence[int | None], month: Sequence[int | None]
) -> pl.DataFrame:
    return pl.DataFrame(
        {"era": era, "foot_mm": foot_mm, "month": month},
        schema={"era": pl.String, "foot_mm": pl.Int64, "month": pl.Int64},
    )


def test_each_era_has_a_curve_of_its_own() -> None:
    frame = in_era(["early", "late", "early", "lost"], [275, 275, 260, 275], [0] * 4)
    found = rows_of("size in era", by_era(), frame)
    spread = (0.4**2 + 0.6**2) / 4
    assert effects_of(by_era(), found) == pytest.approx([0.15, 0, -0.4, 0])
    assert found.extra == pytest.approx([0.1875, 0, 0, spread])
    assert found.unseen.tolist() == [False, False, False, True]
    assert found.extrapolated.tolist() == [False, True, False, False]
    assert found.values.tolist() == [[0.75, 0.25], [1, 0], [1, 0], [0, 0]]
    assert found.records.tolist() == [0, 0, 1, 0]


def test_each_era_has_a_walk_of_its_own_and_one_of_a_single_month_moves_on_both_ways() -> None:
    frame = in_era(["early", "late", "late", "late", "lost"], [270] * 5, [4, 4, 9, 6, 4])
    found = rows_of("month in era", by_era(), frame)
    spread = (0.3**2 + 0.1**2) / 4
    assert effects_of(by_era(), found) == pytest.approx([-0.05, 0, 0, 0, 0])
    assert found.extra == pytest.approx([0.02, 0.04, 0.06, 0, spread])
    assert found.unseen.tolist() == [False, False, False, False, True]
    assert found.extrapolated.tolist() == [False, True, True, False, False]


def test_a_single_month_that_is_no_reference_is_kept_whole() -> None:
    """The walk of each era is pinned at the month nearest the last: here the last of both is pinned."""
    found = rows_of("month in era", by_era(), in_era(["late"], [270], [9]))
    assert found.values.tolist() == [[1, 0]]
    assert found.positions.tolist() == [[5, 5]]


def test_an_unknown_place_in_a_known_era_is_unseen() -> None:
    found = rows_of("size in era", by_era(), in_era(["early", "early"], [None, 275], [0, 0]))
    assert found.unseen.tolist() == [True, False]


# rows as a whole


def test_the_rows_of_a_pair_are_those_of_its_terms_in_order() -> None:
    frame = mixed()
    rows = rows_by_term(fitted(), frame)
    assert [term.term for term in rows] == [term.name for term in TERMS]
    for whole, factor in zip(rows, fitted().design.factors, strict=True):
        alone = rows_of_term(fitted(), factor, frame)
        for name in ("positions", "values", "extra", "unseen", "extrapolated", "records"):
            assert np.array_equal(getattr(whole, name), getattr(alone, name))
        assert whole.keys.to_list() == alone.keys.to_list()


def test_a_row_begins_with_the_intercept() -> None:
    frame = pairs(silhouette=["Plover Lo", "Dunlin Mid"])
    rows = (rows_of("silhouette", frame=frame), rows_of("month", frame=frame))
    positions, values = stack(rows, 2)
    assert positions.tolist() == [[0, 2, 11, 11], [0, 11, 11, 11]]
    assert values.tolist() == [[1, 1, 1, 0], [1, 1, 1, 0]]
    assert [part.tolist() for part in stack((), 2)] == [[[0], [0]], [[1], [1]]]


def test_a_pair_is_repeated_in_all_it_has() -> None:
    once = rows_of("parts", parts=[["tags", "heel"]])
    thrice = once.repeated(3)
    assert thrice.positions.tolist() == [[9, 11]] * 3
    assert thrice.values.tolist() == [[1, 1]] * 3
    assert thrice.extra.tolist() == [once.extra[0]] * 3
    assert once.extra[0] > 0
    assert thrice.unseen.tolist() == [True] * 3
    assert thrice.extrapolated.tolist() == [False] * 3
    assert thrice.keys.to_list() == ["heel + tags"] * 3
    assert thrice.records.tolist() == [0] * 3
    assert thrice.term == "parts"
    assert rows_of("month", month=[9]).repeated(2).extrapolated.tolist() == [True, True]


def drawn_rows(seed: int, rows: int = MANY, size: int = 7, slots: int = 5) -> tuple[NDArray[np.int64], Array]:
    """Return rows of one to five slots; a slot that is not used has the number after the last."""
    draws = np.random.default_rng(seed)
    positions = draws.integers(0, size, (rows, slots))
    positions[draws.random((rows, slots)) < 0.4] = size
    return positions, draws.normal(size=(rows, slots))


def test_a_quadratic_form_is_that_of_the_rows_written_out() -> None:
    positions, values = drawn_rows(1)
    root = np.random.default_rng(2).normal(size=(7, 7))
    rows = dense(positions, values, 7)
    assert in_full(root).quadratic(positions, values) == pytest.approx(((rows @ root) * rows).sum(axis=1))
    assert in_full(root).quadratic(positions[:0], values[:0]).shape == (0,)


def test_a_bilinear_form_is_that_of_the_rows_written_out() -> None:
    positions, values = drawn_rows(3)
    other_positions, other_values = drawn_rows(4, slots=3)
    root = np.random.default_rng(5).normal(size=(7, 7))
    expected = ((dense(positions, values, 7) @ root) * dense(other_positions, other_values, 7)).sum(axis=1)
    assert in_full(root).bilinear(positions, values, other_positions, other_values) == pytest.approx(expected)


# what is predicted


def test_a_price_is_the_sum_of_its_effects_and_its_variance_that_of_its_row_and_of_what_is_unseen() -> None:
    """5 + 0 (unseen) + 0.125 + 0.15 − 0.075 + 0.25 − 0.1; POOL, 0.1875 of the curve, 0.015 of the walk."""
    frame = pairs(
        silhouette=["Dunlin Mid"], box=["lid"], foot_mm=[275], month=[3], parts=[["tags"]], wear=[2.0]
    )
    found = predict(fitted(), frame)
    row = np.array([1, 0, 0, 1, 0, 0.25, 0, 0.75, 0, 1, 2])
    assert found["log_price"].to_list() == pytest.approx([5.35])
    expected = row @ fitted().covariance.dense() @ row + POOL + 0.1875 + 0.015
    assert found["estimation_variance"].to_list() == pytest.approx([expected])
    assert found["unseen"].to_list() == [["silhouette"]]
    assert found["extrapolated"].to_list() == [[]]
    assert found.columns == ["log_price", "estimation_variance", "unseen", "extrapolated"]


def test_all_that_is_unseen_or_beyond_is_named_in_order() -> None:
    frame = pairs(
        silhouette=["Dunlin Mid", "Gannet Hi", "Gannet Hi"],
        box=["crate", "lid", "lid"],
        foot_mm=[300, 300, 270],
        month=[9, 3, 6],
    )
    found = predict(fitted(), frame)
    assert found["unseen"].to_list() == [["silhouette", "box"], [], []]
    assert found["extrapolated"].to_list() == [["size", "month"], ["size"], []]


def test_a_fit_without_terms_prices_all_alike() -> None:
    plain = by_hand(SOLD, (), (5.0,), {})
    found = predict(plain, SOLD)
    assert found["log_price"].to_list() == [5.0] * 4
    assert found["estimation_variance"].to_list() == [plain.covariance.dense()[0, 0]] * 4
    assert found["unseen"].to_list() == found["extrapolated"].to_list() == [[]] * 4
    assert found["unseen"].dtype == found["extrapolated"].dtype == pl.List(pl.String)


def test_a_prediction_is_the_dense_rows_times_the_effects() -> None:
    frame = mixed()
    rows = design_rows(fitted(), frame).toarray()
    found = predict(fitted(), frame)
    extra = np.sum([term.extra for term in rows_by_term(fitted(), frame)], axis=0)
    assert rows.shape == (40, 11)
    assert found["log_price"].to_numpy() == pytest.approx(rows @ fitted().coefficients)
    variance = ((rows @ fitted().covariance.dense()) * rows).sum(axis=1) + extra
    assert found["estimation_variance"].to_numpy() == pytest.approx(variance)
    assert_frame_equal(predict_rows(fitted(), rows_by_term(fitted(), frame), 40), found)
    assert log_prices(fitted(), frame) == pytest.approx(rows @ fitted().coefficients)
    assert log_prices_of_rows(fitted(), rows_by_term(fitted(), frame), 40) == pytest.approx(
        rows @ fitted().coefficients
    )


def test_a_dense_row_is_written_out() -> None:
    frame = pairs(
        silhouette=["Plover Lo"], box=["lid"], foot_mm=[265], month=[1], parts=[["laces"]], wear=[3.0]
    )
    assert design_rows(fitted(), frame).toarray().tolist() == [[1, 0, 1, 1, 0.5, 0, 0.5, 0.5, 1, 0, 3]]


@pytest.mark.parametrize(
    "columns", [(), ("box",), ("month", "silhouette"), ("parts", "wear"), tuple(SOLD.columns)]
)
def test_two_predictions_at_once_are_those_one_by_one(columns: tuple[str, ...]) -> None:
    frame, changed = mixed(seed=3), mixed(seed=4).select(columns)
    if not columns:
        changed = pl.DataFrame({"note": ["-"] * 40})
    here, there = predict_both(fitted(), frame, changed)
    assert_frame_equal(here, predict(fitted(), frame))
    assert_frame_equal(there, predict(fitted(), frame.with_columns(changed)))


# steps from one pair to another


def test_a_step_is_the_difference_of_the_effects_term_by_term() -> None:
    start = pairs(silhouette=["Gannet Hi"], foot_mm=[265], month=[3], wear=[1.0])
    end = pairs(silhouette=["Plover Lo"], box=["lid"], foot_mm=[290], month=[1], parts=[["tags"]], wear=[4.0])
    steps = term_steps(fitted(), rows_by_term(fitted(), start), rows_by_term(fitted(), end))
    assert steps == pytest.approx(np.array([[-0.75, 0.125, 0.8, -0.125, 0.25, -0.15]]))
    found = differences(fitted(), start, end)
    assert found.columns == ["effect", "error"]
    assert found["effect"].to_list() == pytest.approx([0.15])


def test_no_terms_make_no_steps() -> None:
    assert term_steps(fitted(), (), ()).shape == (0, 0)
    assert step_variance(fitted(), (), ()).shape == (0,)


def test_the_variance_of_a_step_is_that_of_the_dense_rows_apart() -> None:
    known = pairs(
        silhouette=["Gannet Hi", "Plover Lo"] * 5,
        box=["lid"] * 4 + ["none"] * 6,
        foot_mm=[260, 270, 290, 270, 290] * 2,
        month=[0, 2, 6, 6, 2, 0, 0, 0, 6, 6],
    )
    start, end = known, known.reverse().with_columns(wear=pl.lit(2.5))
    apart = (design_rows(fitted(), end) - design_rows(fitted(), start)).toarray()
    variance = ((apart @ fitted().covariance.dense()) * apart).sum(axis=1)
    found = step_variance(fitted(), rows_by_term(fitted(), start), rows_by_term(fitted(), end))
    assert found == pytest.approx(variance)
    assert differences(fitted(), start, end)["error"].to_numpy() == pytest.approx(np.sqrt(variance))


@pytest.mark.parametrize(
    ("before", "after", "extra"),
    [
        ({"silhouette": ["Dunlin Mid"]}, {"silhouette": ["Dunlin Mid"]}, 0),  # shared, whatever it is
        ({"silhouette": ["Dunlin Mid"]}, {"silhouette": ["Knot Lo"]}, 2 * POOL),  # one pool variance each
        ({"silhouette": ["Dunlin Mid"]}, {"silhouette": ["Gannet Hi"]}, POOL),
        ({"silhouette": ["Gannet Hi"]}, {"silhouette": ["Dunlin Mid"]}, POOL),
        ({"month": [9]}, {"month": [11]}, 0.04),  # five steps beyond less three
        ({"month": [11]}, {"month": [9]}, 0.04),
        ({"month": [-3]}, {"month": [9]}, 0.12),  # three steps beyond either end, which nothing joins
        ({"month": [-3]}, {"month": [-1]}, 0.04),
        ({"foot_mm": [254]}, {"foot_mm": [300]}, 0.384 + 2),
        ({"foot_mm": [300]}, {"foot_mm": [310]}, 4.0),  # 0.002 × 10² (20 + 2 × 10 + 20)/3
        ({"foot_mm": [310]}, {"foot_mm": [300]}, 4.0),
        ({"month": [3]}, {"month": [9]}, 0.075),  # 0.015 + 0.06
        ({"month": [9]}, {"month": [3]}, 0.075),
        (
            {"month": [9], "silhouette": ["Dunlin Mid"]},
            {"month": [6], "silhouette": ["Knot Lo"]},
            2 * POOL + 0.06,
        ),
    ],
)
def test_a_step_has_the_variance_of_what_the_two_do_not_share(
    before: dict[str, list[object]], after: dict[str, list[object]], extra: float
) -> None:
    start, end = pairs(**before), pairs(**after)
    apart = (design_rows(fitted(), end) - design_rows(fitted(), start)).toarray()
    variance = float((apart @ fitted().covariance.dense() @ apart.T).item()) + extra
    found = step_variance(fitted(), rows_by_term(fitted(), start), rows_by_term(fitted(), end))
    assert found == pytest.approx([variance])
    assert differences(fitted(), start, end)["error"].to_list() == pytest.approx([np.sqrt(variance)])


def beside_coefficients(fit: Fit, start: pl.DataFrame, end: pl.DataFrame) -> Array:
    """Return the variance of each step that the coefficients do not carry."""
    apart = (design_rows(fit, end) - design_rows(fit, start)).toarray()
    found = step_variance(fit, rows_by_term(fit, start), rows_by_term(fit, end))
    return found - ((apart @ fit.covariance.dense()) * apart).sum(axis=1)


def test_what_two_walks_do_not_share_beyond_their_ends_is_their_own() -> None:
    start, end = in_era(["early", "early"], [270] * 2, [9, 9]), in_era(["late", "early"], [270] * 2, [9, 11])
    assert beside_coefficients(by_era(), start, end) == pytest.approx([0.06 + 0.06, 0.04])


def test_an_era_of_one_month_or_size_has_two_ends_as_well() -> None:
    start = in_era(["late"] * 4, [270, 270, 280, 260], [8, 4, 6, 6])
    end = in_era(["late"] * 4, [270, 270, 290, 290], [9, 9, 6, 6])
    assert beside_coefficients(by_era(), start, end) == pytest.approx([0.02, 0.04 + 0.06, 0, 0])


def test_the_high_end_of_one_walk_is_not_the_low_end_of_the_next() -> None:
    sold = pl.DataFrame({"era": ["early", "early", "late", "late"], "month": [0, 4, 0, 6]})
    walks = by_hand(sold, BY_ERA[1:], (5.0, 0.1, 0.2), {"month in era": LAMBDAS["month"]})
    between = rows_by_term(walks, in_era(["late"], [None], [3]))[0]
    assert (between.extrapolated.tolist(), between.extra.tolist()) == (
        [False],
        pytest.approx([0.02 * 3 * 3 / 6]),
    )
    steps = in_era(["early", "early"], [None] * 2, [9, -2]), in_era(["late", "late"], [None] * 2, [-3, 7])
    assert beside_coefficients(walks, *steps) == pytest.approx([(5 + 3) * 0.02, (2 + 1) * 0.02])


def test_an_index_joins_no_more_than_its_steps_do() -> None:
    index = period_index(fitted(), ["month"], [-3, 9, 12], base=9)
    start, end = pairs(month=[9]), pairs(month=[-3, 9, 12])
    assert index["error"].to_numpy() == pytest.approx(differences(fitted(), start, end)["error"].to_numpy())


def test_one_pair_repeated_lies_beyond_the_same_ends() -> None:
    start, end = pairs(month=[9]), pairs(month=[11, 12, -3])
    once = tuple(term.repeated(3) for term in rows_by_term(fitted(), start))
    apart = design_rows(fitted(), end).toarray() - design_rows(fitted(), start).toarray()
    variance = ((apart @ fitted().covariance.dense()) * apart).sum(axis=1)
    found = step_variance(fitted(), once, rows_by_term(fitted(), end))
    assert found - variance == pytest.approx([0.04, 0.06, 0.06 + 0.06])


def test_beyond_one_end_of_a_curve_two_places_share_the_noise_up_to_the_nearer() -> None:
    """The step's variance as an integral of the noise itself, summed over small pieces, and of the chord's slope."""
    near, far, chord, intensity = 10.0, 17.0, 20.0, 0.002
    pieces = (np.arange(170_000) + 0.5) * far / 170_000
    kernel = np.maximum(far - pieces, 0) - np.maximum(near - pieces, 0)
    summed = intensity * (np.sum(kernel**2) * far / 170_000 + (far - near) ** 2 * chord / 3)
    start, end = pairs(foot_mm=[290 + near]), pairs(foot_mm=[290 + far])
    assert beside_coefficients(fitted(), start, end) == pytest.approx([summed], rel=1e-6)


def test_one_pair_is_compared_with_each_of_several() -> None:
    start, ends = pairs(silhouette=["Plover Lo"]), mixed(3)
    whole = differences(fitted(), start, ends)
    single = pl.concat([differences(fitted(), start, ends[place]) for place in range(3)])
    assert_frame_equal(whole, single)
    assert differences(fitted(), ends, ends.reverse()).height == 3


def test_a_step_whose_variance_is_a_rounding_below_zero_is_certain() -> None:
    below = by_hand(SOLD, TERMS[1:2], (5.0, 0.125), {})
    below.covariance.middle[:] = [[1.0, 0.0], [0.0, -1e-18]]
    assert differences(below, pairs(), pairs(box=["lid"]))["error"].to_list() == [0]


def test_records_that_do_not_match_are_refused_with_a_way_out() -> None:
    with pytest.raises(FitError) as refused:
        differences(fitted(), mixed(2), mixed(3))
    assert str(refused.value).splitlines() == [
        "2 records cannot be compared with 3 one by one",
        "give one start record, or as many as there are end records.",
    ]
