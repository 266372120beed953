"""Interactions: two factors worth more or less together than apart are found where there are such, and only there."""

from dataclasses import replace
from functools import cache

import numpy as np
import polars as pl
import pytest
from scipy.sparse import csr_array

from pipeline.hedonic import interactions
from pipeline.hedonic.fit import FitSettings, fit_together
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.interactions import (
    NOT_TRIED,
    Interactions,
    Search,
    find_interactions,
    judge_interactions,
    judge_pair,
    pairs_of,
)
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import fit_with_interactions, roll_with_interactions
from pipeline.hedonic.source import ONE_STAGE
from pipeline.hedonic.specification import Specification, Term

TERMS = (
    Term("shape", "pooled", ("shape",)),
    Term("box", "pooled", ("box",)),
    Term("venue", "pooled", ("venue",)),
    Term("faults", "flags", ("faults",)),
    Term("month", "walk", ("month",)),
)
PAIRS = pairs_of(TERMS, ("faults",))
SETTINGS = FitSettings(
    lambda sales: Specification("log_price", TERMS),
    Robust(degrees_of_freedom=5.0),
    (Term("shape", "pooled", ("shape",)),),
    "month",
    pairs=PAIRS,
)
ORIGINS = tuple(range(124, 136))


def sold(seed: int, together: float = 0.0, venues: float = 0.0, count: int = 1200) -> pl.DataFrame:
    """Return sales whose shape and box add `together` times a drawn effect of both, `venues` likewise."""
    draws = np.random.default_rng(seed)
    shape, box, venue = (draws.integers(0, levels, count) for levels in (8, 3, 4))
    faults = draws.random((count, 3)) < 0.3
    price = 4 + 0.1 * shape + 0.1 * box + 0.05 * venue - faults @ np.array([0.1, 0.2, 0.3])
    price += (
        together * draws.normal(0, 1, (8, 3))[shape, box] + venues * draws.normal(0, 1, (8, 4))[shape, venue]
    )
    return pl.DataFrame(
        {
            "shape": [f"s{one}" for one in shape],
            "box": [f"b{one}" for one in box],
            "venue": [f"v{one}" for one in venue],
            "faults": [[f"f{place}" for place in np.flatnonzero(row)] for row in faults],
            "month": np.sort(draws.integers(100, 136, count)),
            "log_price": price + 0.25 * draws.standard_t(5, count),
        }
    )


def searched(frame: pl.DataFrame, pairs: tuple[Term, ...] = PAIRS) -> Search:
    together = fit_together(FrameSource(frame), SETTINGS, ONE_STAGE)
    return find_interactions(together.coding, together.coded, together.whole.standing, pairs)


@cache
def rolled(together: float, venues: float = 0.0) -> Interactions:
    return roll_with_interactions(FrameSource(sold(3, together, venues)), SETTINGS, ORIGINS)[1]


def test_a_pair_that_fetches_more_together_is_found() -> None:
    assert [term.columns for term in searched(sold(3, 0.2)).found] == [("shape", "box")]


@pytest.mark.parametrize("seed", range(8))
def test_no_pair_is_found_where_every_factor_adds_its_own_part(seed: int) -> None:
    assert searched(sold(seed)) == Search()


def test_a_found_pair_lowers_the_errors_on_later_sales_and_counts() -> None:
    known = rolled(0.2)

    assert known.pairs == (("shape", "box"),)
    assert known.used
    assert known.gain > 2 * known.error > 0


def test_the_fit_has_the_pair_that_counts() -> None:
    with_pair, _ = roll_with_interactions(FrameSource(sold(3, 0.2)), SETTINGS, ORIGINS)

    assert "shape by box" in [term.name for term in with_pair.whole.fit.specification.terms]


def test_a_pair_that_gains_nothing_on_later_sales_does_not_count() -> None:
    frame = sold(3, 0.2)
    once = frame.filter(pl.col("month") < 124)
    since = frame.filter(pl.col("month") >= 124).with_columns(log_price=sold(3)["log_price"].tail(400).mean())
    draws = np.random.default_rng(1)
    since = since.with_columns(log_price=pl.col("log_price") + pl.Series(draws.normal(0, 0.25, since.height)))

    fitted, known = roll_with_interactions(FrameSource(pl.concat([once, since])), SETTINGS, ORIGINS)

    assert known.pairs == (("shape", "box"),)
    assert not known.used
    assert fitted.whole.fit.specification.terms == TERMS


def test_a_second_round_finds_the_pair_that_the_first_had_no_room_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(interactions, "MOST_FOUND", 1)

    known = roll_with_interactions(FrameSource(sold(3, 0.3, 0.2)), SETTINGS, ORIGINS)[1]

    assert (known.rounds, known.pairs) == (2, (("shape", "box"), ("shape", "venue")))


def test_fits_of_past_origins_are_of_as_many_rounds_as_count() -> None:
    source = FrameSource(sold(3, 0.2))

    fits = [fit_with_interactions(source, SETTINGS, (130,), rounds) for rounds in (0, 1)]

    assert [len(one.whole.fit.specification.terms) - len(TERMS) for one in fits] == [0, 1]
    assert len(fits[1].past[0].fit.specification.terms) == len(TERMS) + 1  # type: ignore[union-attr]


def test_too_few_later_sales_leave_it_open_whether_a_pair_counts() -> None:
    known = roll_with_interactions(FrameSource(sold(3, 0.2)), SETTINGS, ())[1]

    assert (known.rounds, known.pairs, known.error) == (0, (("shape", "box"),), 0.0)


def test_a_pair_that_no_past_day_called_for_does_not_count_yet() -> None:
    before, since = sold(3).filter(pl.col("month") < 120), sold(3, 0.5).filter(pl.col("month") >= 120)

    fitted, known = roll_with_interactions(FrameSource(pl.concat([before, since])), SETTINGS, (117, 120))

    assert (known.rounds, known.pairs, known.error) == (0, (("shape", "box"),), 0.0)
    assert fitted.whole.fit.specification.terms == TERMS


def test_nothing_is_looked_for_without_pairs() -> None:
    assert roll_with_interactions(FrameSource(sold(3)), replace(SETTINGS, pairs=()), ())[1] == NOT_TRIED


def test_a_pair_that_only_later_sales_call_for_is_not_in_the_fit_of_an_earlier_day() -> None:
    before = sold(3).filter(pl.col("month") < 120)
    since = sold(3, 0.5).filter(pl.col("month") >= 120)

    found = fit_with_interactions(FrameSource(pl.concat([before, since])), SETTINGS, (120,), 1)

    assert found.past[0].fit.specification.terms == TERMS  # type: ignore[union-attr]
    assert len(found.whole.fit.specification.terms) == len(TERMS) + 1


def test_a_pair_of_more_cells_than_a_fit_takes_is_left_out_and_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(interactions, "MOST_CELLS", 23)

    search = searched(sold(3, 0.2))

    assert search == Search((), (Term("shape by box", "pooled", ("shape", "box")),))


@pytest.mark.parametrize(("within", "found"), [("shape", 1), ("venue", 0), (None, 1)])
def test_cells_that_all_records_share_are_fewer_than_those_within_a_part_of_them(
    monkeypatch: pytest.MonkeyPatch, within: str | None, found: int
) -> None:
    monkeypatch.setattr(interactions, "MOST_SHARED", 23)
    together = fit_together(FrameSource(sold(3, 0.2)), SETTINGS, ONE_STAGE)

    search = find_interactions(together.coding, together.coded, together.whole.standing, PAIRS, within=within)

    assert len(search.found) == found


def test_a_pair_that_a_fit_has_is_not_looked_for_again() -> None:
    together = fit_together(FrameSource(sold(3, 0.2)), SETTINGS, ONE_STAGE)
    one = searched(sold(3, 0.2)).found

    assert not find_interactions(
        together.coding, together.coded, together.whole.standing, one, added=one
    ).found


def test_factors_of_one_level_make_no_pair() -> None:
    frame = sold(3).with_columns(box=pl.lit("b0"))
    together = fit_together(FrameSource(frame), SETTINGS, ONE_STAGE)

    judged = judge_interactions(together.coding, together.coded, together.whole.standing, PAIRS)

    assert "box" not in {column for one in judged for column in one.term.columns}


def test_without_an_interaction_small_chances_are_no_more_frequent_than_they_say() -> None:
    chances = []
    for seed in range(100, 140):
        together = fit_together(FrameSource(sold(seed, count=600)), SETTINGS, ONE_STAGE)
        judged = judge_interactions(together.coding, together.coded, together.whole.standing, PAIRS)
        chances += [one.chance for one in judged]

    assert len(chances) == 240
    assert np.mean(np.array(chances) < 0.1) < 0.1 + 2 * np.sqrt(0.1 * 0.9 / 240)
    assert np.mean(np.array(chances) < 0.02) < 0.02 + 2 * np.sqrt(0.02 * 0.98 / 240)


def balanced(square: float, fourth: float = 3.0) -> interactions.Candidate:
    """Return how a pair of two levels each does: ten records in each of its four cells, Σ T² the `square` of them."""
    total = np.sqrt(square / 4)
    totals, counts = csr_array(np.full((2, 2), total)), csr_array(np.full((2, 2), 10.0))
    behind = (np.full(2, 20.0), np.full(2, 20.0))
    return judge_pair(PAIRS[0], totals, counts, behind, (40.0, 1.0, fourth))


def test_the_chance_of_equal_cells_of_gaussian_residuals_is_that_of_a_chi_square() -> None:
    """Of four degrees of freedom: 9.488 is its 95 % point (any table of chi-square), of Σ T²/n, n = 10."""
    assert balanced(94.88).chance == pytest.approx(0.05, abs=1e-4)


def test_residuals_with_long_tails_need_more_to_be_beyond_chance() -> None:
    assert balanced(94.88, fourth=9.0).chance > balanced(94.88).chance


def test_the_fall_that_is_expected_is_that_worked_out_by_hand() -> None:
    """By hand: c = 1 − 1/2 − 1/2 + 1/4 = 1/4, so 2.5 of each cell's ten records count, and Σ (nc)² = 25.

    Σ T² = 140 is 100 more than Σ n v = 40: τ² = 4; each cell takes 2.5·4·2.5·4/(2.5·4 + 1) = 100/11; of 40: 10/11.
    """
    assert balanced(140.0).fall == pytest.approx(10 / 11)


def test_two_lists_make_no_pair() -> None:
    terms = (Term("faults", "flags", ("faults",)), Term("parts", "flags", ("parts",)))

    assert pairs_of(terms, ("faults", "parts")) == ()


def test_the_list_of_a_pair_comes_first() -> None:
    assert ("faults", "shape") in [term.columns for term in PAIRS]


def test_a_pair_that_a_term_is_over_already_is_not_looked_for() -> None:
    terms = (*TERMS, Term("own", "pooled", ("box", "shape")))

    assert {"box", "shape"} not in [set(term.columns) for term in pairs_of(terms, ("faults",))]


def test_a_pair_is_not_named_like_another_term() -> None:
    terms = (*TERMS, Term("shape by box", "pooled", ("venue", "box", "shape")))

    assert "shape by box" not in [term.name for term in pairs_of(terms, ("faults",))]
