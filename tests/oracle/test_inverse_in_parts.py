"""The inverse in parts against numpy's dense one, and REML on it against the textbook's formulas on dense matrices."""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse import csr_array

from pipeline.hedonic import elimination
from pipeline.hedonic.elimination import Elimination, eliminate
from pipeline.hedonic.inverse import Inverse, sparse_rows
from pipeline.hedonic.penalties import Penalty, differences, identity
from pipeline.hedonic.reml import Problem, solve

Array = NDArray[np.float64]

EXACT = 1e-10
"""Relative to the largest entry: both ways round off, in another order."""


@dataclass(frozen=True)
class Drawn:
    """Normal equations of drawn sales: silhouettes, colourways and eras within them, a venue, a walk of months."""

    design: Array
    response: Array
    penalties: tuple[Penalty, ...]

    @property
    def gram(self) -> csr_array:
        return csr_array(self.design.T @ self.design)

    def problem(self) -> Problem:
        moment = self.design.T @ self.response
        squares = float(self.response @ self.response)
        return Problem(self.gram, moment, squares, len(self.response), self.penalties)

    def lambdas(self) -> Array:
        return np.geomspace(0.3, 30.0, len(self.penalties))

    def matrix(self, lambdas: Array) -> Array:
        whole = self.design.T @ self.design
        for penalty, factor in zip(self.penalties, lambdas, strict=True):
            penalty.add_to(whole, float(factor))
        return whole


def _dummies(codes: NDArray[np.int64], size: int) -> Array:
    return np.eye(size)[codes]


def draw(
    *, sales: int = 400, silhouettes: int = 60, crossing: bool = False, laces: int = 50, seed: int = 5
) -> Drawn:
    """Draw sales of silhouettes with two colourways and three eras each; `crossing` adds a term across them all."""
    random = np.random.default_rng(seed)
    silhouette = random.integers(0, silhouettes, sales)
    colourway = 2 * silhouette + random.integers(0, 2, sales)
    era = random.integers(0, 3, sales)
    venue, month = random.integers(0, 4, sales), random.integers(0, 9, sales)
    blocks = [
        ("silhouette", _dummies(silhouette, silhouettes)),
        ("colourway", _dummies(colourway, 2 * silhouettes)),
        ("era in silhouette", _dummies(3 * silhouette + era, 3 * silhouettes)),
        ("venue", _dummies(venue, 4)),
    ]
    if crossing:
        blocks.append(("lace", _dummies(random.integers(0, laces, sales), laces)))
    design = np.column_stack([np.ones(sales), _dummies(era, 3)[:, 1:]])
    penalties = []
    for name, block in blocks:
        penalties.append(identity(name, design.shape[1], block.shape[1]))
        design = np.column_stack([design, block])
    root = differences(np.arange(9.0), order=1)[:, :-1]
    penalties.append(Penalty("month", design.shape[1], 8, root))
    design = np.column_stack([design, _dummies(month, 9)[:, :-1]])
    effects = random.normal(0, 0.2, design.shape[1])
    response = design @ effects + random.standard_t(5, sales) * 0.2
    return Drawn(design, response, tuple(penalties))


ALL_LOCAL, NOTHING_LOCAL = 20, 10_000
"""Terms of so many levels are local: in the first case three of the terms that are drawn, in the second none."""


def eliminated(drawn: Drawn, monkeypatch: pytest.MonkeyPatch, *, large: int) -> Elimination:
    monkeypatch.setattr(elimination, "LARGE", large)
    return eliminate(drawn.gram, drawn.penalties)


CASES = {
    "nested terms are local": (draw(), ALL_LOCAL),
    "nothing is local": (draw(), NOTHING_LOCAL),
    "one silhouette, one block": (draw(silhouettes=1, sales=40), 1),
    "batches of one block": (draw(), ALL_LOCAL),
    "a large term crosses the others": (draw(crossing=True), ALL_LOCAL),
    "a silhouette of a few sales": (draw(sales=60), ALL_LOCAL),
}


@pytest.fixture(params=CASES)
def case(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> tuple[Drawn, Elimination]:
    drawn, large = CASES[request.param]
    if request.param == "batches of one block":
        monkeypatch.setattr(elimination, "ROOM", 1)
    return drawn, eliminated(drawn, monkeypatch, large=large)


def found_and_known(case: tuple[Drawn, Elimination]) -> tuple[Inverse, Array]:
    drawn, chosen = case
    lambdas = drawn.lambdas()
    return chosen.invert(lambdas).inverse, np.linalg.inv(drawn.matrix(lambdas))


def some_rows(size: int, seed: int = 3) -> tuple[NDArray[np.int64], Array]:
    """Return drawn design rows; a position of `size` stands for none."""
    random = np.random.default_rng(seed)
    return random.integers(0, size + 1, (70, 6)), random.normal(size=(70, 6))


def close(found: Array, known: Array) -> bool:
    return bool(np.max(np.abs(found - known)) <= EXACT * np.max(np.abs(known)))


def test_the_parts_make_the_inverse(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    assert close(found.dense(), known)


def test_the_log_determinant_is_that_of_the_whole_matrix(case: tuple[Drawn, Elimination]) -> None:
    drawn, chosen = case
    known = np.linalg.slogdet(drawn.matrix(drawn.lambdas()))[1]
    assert chosen.invert(drawn.lambdas()).log_determinant == pytest.approx(known, rel=EXACT)


def test_the_traces_of_the_penalties_are_those_of_the_whole_matrix(case: tuple[Drawn, Elimination]) -> None:
    drawn, chosen = case
    known = np.linalg.inv(drawn.matrix(drawn.lambdas()))
    traces = [np.sum(one.matrix() * known[one.span, one.span]) for one in drawn.penalties]
    assert close(chosen.invert(drawn.lambdas()).traces, np.array(traces))


def test_the_traces_of_pairs_of_penalties_are_those_of_the_whole_matrix(
    case: tuple[Drawn, Elimination],
) -> None:
    drawn, chosen = case
    known = np.linalg.inv(drawn.matrix(drawn.lambdas()))
    crossed = [
        [
            np.trace(one.matrix() @ known[one.span, two.span] @ two.matrix() @ known[two.span, one.span])
            for two in drawn.penalties
        ]
        for one in drawn.penalties
    ]
    assert close(chosen.invert(drawn.lambdas()).crossed, np.array(crossed))


def test_a_product_with_the_parts_is_that_with_the_whole(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    right = np.random.default_rng(2).normal(size=(len(known), 3))
    assert close(found @ right, known @ right)


def test_a_product_with_one_column_is_a_column(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    right = np.random.default_rng(2).normal(size=len(known))
    assert close(found @ right, known @ right)


def test_the_variances_are_the_diagonal(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    assert close(found.diagonal(), np.diag(known))


def test_some_effects_have_their_own_rows_and_columns(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    places = np.random.default_rng(4).integers(0, len(known), 20)
    assert close(found.taken(places), known[np.ix_(places, places)])


def test_the_variance_of_a_design_row_is_that_of_the_whole(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    positions, values = some_rows(len(known))
    rows = sparse_rows(positions, values, len(known)).toarray()
    assert close(found.quadratic(positions, values), np.einsum("ni,ij,nj->n", rows, known, rows))


def test_the_covariance_of_two_design_rows_is_that_of_the_whole(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    one, other = some_rows(len(known)), some_rows(len(known), seed=8)
    left, right = (sparse_rows(*rows, len(known)).toarray() for rows in (one, other))
    assert close(found.bilinear(*one, *other), np.einsum("ni,ij,nj->n", left, known, right))


def test_the_covariances_between_lists_of_rows_are_those_of_the_whole(
    case: tuple[Drawn, Elimination],
) -> None:
    found, known = found_and_known(case)
    left, right = (sparse_rows(*some_rows(len(known), seed), len(known)) for seed in (1, 2))
    assert close(found.between(left, right), left.toarray() @ known @ right.toarray().T)


def test_a_multiple_is_that_of_the_whole(case: tuple[Drawn, Elimination]) -> None:
    found, known = found_and_known(case)
    assert close(found.scaled(0.3).dense(), 0.3 * known)


def test_what_becomes_known_of_any_effects_narrows_the_whole(case: tuple[Drawn, Elimination]) -> None:
    """By Gaussian theory: V − VR'(RVR' + E)⁻¹RV."""
    found, known = found_and_known(case)
    rows = sparse_rows(*(part[:4] for part in some_rows(len(known))), len(known))
    gain = np.linalg.inv(found.between(rows, rows) + np.eye(4))
    across = known @ rows.toarray().T
    assert close(found.less(rows, gain).dense(), known - across @ gain @ across.T)


def test_what_is_known_of_the_core_leaves_the_blocks_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = draw()
    found = eliminated(drawn, monkeypatch, large=ALL_LOCAL).invert(drawn.lambdas()).inverse
    rows = sparse_rows(found.core[None, :2], np.array([[1.0, -1.0]]), found.size)
    held = found.less(rows, 1 / found.between(rows, rows))
    assert held.middle.shape == found.middle.shape


def test_a_row_that_was_narrowed_keeps_its_variance_by_any_way(case: tuple[Drawn, Elimination]) -> None:
    found, _ = found_and_known(case)
    rows = sparse_rows(*(part[:4] for part in some_rows(found.size)), found.size)
    held = found.less(rows, np.linalg.inv(found.between(rows, rows) + np.eye(4)))
    positions, values = some_rows(found.size, seed=9)
    whole = sparse_rows(positions, values, found.size)
    assert close(held.quadratic(positions, values), np.diag(held.between(whole, whole)))


def test_a_term_that_would_link_too_many_levels_stays_in_the_core(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = draw(crossing=True)
    lace = drawn.penalties[4]
    found = eliminated(drawn, monkeypatch, large=ALL_LOCAL)
    assert set(range(lace.start, lace.start + lace.size)) <= set(found.core.tolist())


def test_a_larger_term_across_them_does_not_keep_nested_terms_in_the_core(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A house that lists every seller as a venue still has the blocks of its silhouettes, of more effects in all."""
    drawn = draw(sales=300, crossing=True, laces=200)
    found = eliminated(drawn, monkeypatch, large=ALL_LOCAL)
    assert len(found.local) == 60 + 120 + 180


def test_one_silhouette_of_very_many_colourways_does_not_keep_the_others_in_the_core(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its block is larger than all others together, and still less work than a core of all silhouettes."""
    random = np.random.default_rng(6)
    silhouette = np.concatenate([np.zeros(700, dtype=np.int64), random.integers(1, 900, 900)])
    colourway = np.concatenate([np.arange(700) % 400, 400 + silhouette[700:]])
    design = np.column_stack([_dummies(silhouette, 900), _dummies(colourway, 1300)])
    gram = csr_array(np.column_stack([np.ones(len(design)), design]).T) @ csr_array(
        np.column_stack([np.ones(len(design)), design])
    )
    monkeypatch.setattr(elimination, "LARGE", ALL_LOCAL)
    found = eliminate(gram, (identity("silhouette", 1, 900), identity("colourway", 901, 1300)))
    assert found.core.tolist() == [0]


def test_nested_terms_are_local(monkeypatch: pytest.MonkeyPatch) -> None:
    found = eliminated(draw(), monkeypatch, large=ALL_LOCAL)
    assert len(found.local) == 60 + 120 + 180


def dense_criterion(problem: Problem, lambdas: Array) -> float:
    """Return -2 log REML (up to a constant) from dense matrices: Wood 2017, Generalized Additive Models, 6.6."""
    whole = problem.gram.toarray()
    for penalty, factor in zip(problem.penalties, lambdas, strict=True):
        penalty.add_to(whole, float(factor))
    effects = np.linalg.solve(whole, problem.moment)
    penalised = problem.squares - effects @ problem.moment
    logs = np.linalg.slogdet(whole)[1] - sum(
        penalty.rank * np.log(factor) for penalty, factor in zip(problem.penalties, lambdas, strict=True)
    )
    return float(problem.residual_df * np.log(penalised / problem.residual_df) + logs)


@pytest.mark.parametrize("large", [ALL_LOCAL, NOTHING_LOCAL])
def test_the_criterion_is_that_of_dense_matrices(monkeypatch: pytest.MonkeyPatch, large: int) -> None:
    monkeypatch.setattr(elimination, "LARGE", large)
    problem = draw().problem()
    solution = solve(problem)
    known = dense_criterion(problem, solution.lambdas)
    assert solution.convergence.criterion == pytest.approx(known, rel=1e-9)


def test_no_step_from_the_lambdas_lowers_the_dense_criterion(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(elimination, "LARGE", ALL_LOCAL)
    problem = draw().problem()
    lambdas = solve(problem).lambdas
    least = dense_criterion(problem, lambdas)
    moved = [
        dense_criterion(problem, lambdas * np.exp(step * np.eye(len(lambdas))[number]))
        for number in range(len(lambdas))
        for step in (-0.01, 0.01)
    ]
    assert min(moved) >= least - 1e-9 * abs(least)


def test_the_effective_number_of_effects_is_that_of_dense_matrices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(elimination, "LARGE", ALL_LOCAL)
    drawn = draw()
    solution = solve(drawn.problem())
    known = np.trace(np.linalg.solve(drawn.matrix(solution.lambdas), drawn.gram.toarray()))
    assert solution.edf == pytest.approx(known, rel=1e-9)


def test_the_lambdas_are_the_same_whatever_is_local(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = draw().problem()
    whole = solve(problem)
    monkeypatch.setattr(elimination, "LARGE", ALL_LOCAL)
    assert solve(draw().problem()).lambdas == pytest.approx(whole.lambdas, rel=1e-8)


def test_a_criterion_that_is_flat_in_places_is_searched_in_few_steps() -> None:
    """Of these sales two variances go to zero; steps of Fellner and Schall alone crawl there, 38 of them."""
    solution = solve(draw(sales=150, silhouettes=40, seed=68).problem(), tolerance=1e-5)
    assert solution.convergence.converged
    assert solution.convergence.steps <= 12
