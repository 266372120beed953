"""The second stage: trees on what a fit leaves, exact shares of each attribute, and whether they count."""

from collections.abc import Callable
from dataclasses import replace
from itertools import permutations
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.answers.audit.words import of_second_stage
from pipeline.hedonic.fit import FitSettings
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import choose_origins, learn_at_origins, roll
from pipeline.hedonic.second_stage import (
    PRICES,
    RESIDUALS,
    TRIAL,
    UNUSED,
    Asked,
    Growth,
    Left,
    Question,
    SecondStage,
    Trees,
    grow,
    joined,
    learn_in_time_order,
    measure_second_stage,
    trees_of,
)
from pipeline.hedonic.specification import Specification, Term

FEW = replace(PRICES, trees=60, rate=0.2)
OF_WORTH = replace(RESIDUALS, trees=20)
NAMES = ("era", "grade", "size", "box")
KINDS = 20
QUESTIONS = (
    *(Question(name, "", "worth") for name in NAMES),
    Question("era", "era", "level", KINDS),
    Question("grade", "grade", "number"),
    Question("size", "size", "number"),
)


def left(seed: int = 1, records: int = 600) -> Left:
    """Return records in which the era and the grade are worth more together, and the size bends.

    One answer in twenty is not known, and worth nothing. The last era is not among those of the first seed.
    """
    draws = np.random.default_rng(seed)
    eras = draws.integers(0, KINDS - (seed == 1), records).astype(float)
    worth = draws.normal(0, 0.3, (records, len(NAMES)))
    worth[:, 0] = np.sin(eras)
    own = np.column_stack([eras, worth[:, 1:3]])
    unknown = draws.random(own.shape) < 0.05
    own[unknown], worth[:, :3][unknown] = np.nan, 0.0
    answers = np.column_stack([worth, own])
    learned = 0.5 * worth[:, 0] * worth[:, 1] + 0.1 * np.sin(8 * worth[:, 2])
    asked = Asked(NAMES, QUESTIONS, answers)
    return Left(asked, learned + draws.normal(0, 0.05, records), np.full(records, 0.2))


def grown(known: Left, rising: tuple[str, ...] = (), growth: Growth = FEW) -> Trees:
    return trees_of(grow(known, rising, growth), known.asked)


def test_the_arrays_say_what_the_library_says() -> None:
    known, asked = left(), left(2).asked

    theirs = grow(known, (), FEW).predict(asked)

    assert KINDS - 1 in asked.answers[:, 4]
    assert np.isnan(asked.answers[:, 4:]).any(axis=0).all()
    np.testing.assert_allclose(grown(known).predict(asked), theirs, atol=1e-6)


def test_a_level_of_none_but_plain_records_is_no_fault() -> None:
    known = left()
    known.asked.answers[:, 4] = np.nan

    theirs = grow(known, (), FEW).predict(left(2).asked)

    np.testing.assert_allclose(grown(known).predict(left(2).asked), theirs, atol=1e-6)


def test_trees_find_what_two_attributes_are_worth_together() -> None:
    known, later = left(records=3_000), left(2)

    after = later.residuals - grown(known).predict(later.asked)

    assert np.abs(after).mean() < 0.75 * np.abs(later.residuals).mean()


@pytest.mark.parametrize("growth", [FEW, OF_WORTH])
def test_the_value_never_falls_along_an_attribute_that_rises(growth: Growth) -> None:
    known = left()
    falling = replace(known, residuals=known.residuals - 0.5 * known.asked.worth[:, 1])
    asked = left(3).asked.taken(np.repeat(np.arange(50), 40))
    asked.answers[:, 1] = asked.answers[:, 5] = np.tile(np.linspace(-1, 1, 40), 50)

    def steps(trees: Trees) -> np.ndarray[Any, np.dtype[np.float64]]:
        worth = growth.stands_for * asked.worth.sum(axis=1)
        return np.diff((worth + trees.predict(asked)).reshape(50, 40), axis=1)

    assert steps(grown(falling, ("grade",), growth)).min() >= -1e-7
    assert steps(grown(falling, (), growth)).min() < -0.01


def test_a_sale_ten_times_too_dear_teaches_no_more_than_one_a_scale_off() -> None:
    known = left()
    wild, clipped = known.residuals.copy(), known.residuals.copy()
    wild[:30], clipped[:30] = 2.3, 0.2
    asked = left(2).asked

    np.testing.assert_array_equal(
        grown(replace(known, residuals=wild)).predict(asked),
        grown(replace(known, residuals=clipped)).predict(asked),
    )


def by_permutations(trees: Trees, asked: Asked) -> list[float]:
    """Return Shapley values by their definition (Shapley 1953): the mean over all orders of joining."""
    orders = list(permutations(range(len(NAMES))))
    shares = np.zeros(len(NAMES))
    for order in orders:
        with_it = plain()
        before = trees.predict(with_it)[0]
        for place in order:
            of_it = [question.attribute == NAMES[place] for question in QUESTIONS]
            with_it.answers[0, of_it] = asked.answers[0, of_it]
            after = trees.predict(with_it)[0]
            shares[place] += (after - before) / len(orders)
            before = after
    return list(shares)


def plain() -> Asked:
    """Return a record that is worth nothing."""
    return Asked(NAMES, QUESTIONS, np.array([[0.0, 0.0, 0.0, 0.0, np.nan, 0.0, 0.0]]))


@pytest.mark.parametrize("record", range(6))
def test_each_attributes_share_is_its_mean_part_over_all_orders(record: int) -> None:
    trees, asked = grown_both(0.5), left(4).asked.taken(np.array([record]))

    assert trees.shares(asked) == pytest.approx(by_permutations(trees, asked), abs=1e-9)


def grown_both(weight: float) -> Trees:
    return joined(grown(left(), growth=OF_WORTH), grown(left()), weight)


@pytest.mark.parametrize("weight", [0.0, 0.5, 1.0])
def test_trees_of_both_kinds_say_the_weighted_mean_of_what_each_says(weight: float) -> None:
    asked = left(2).asked
    residuals, prices = grown(left(), growth=OF_WORTH).predict(asked), grown(left()).predict(asked)

    said = grown_both(weight).predict(asked)

    assert not grown_both(weight).broken()
    np.testing.assert_allclose(said, (1 - weight) * residuals + weight * prices, atol=1e-12)


def test_trees_on_residuals_ask_for_worth_alone_and_those_on_prices_for_what_has_no_number_or_level() -> None:
    asked = [
        {QUESTIONS[number] for number in grow(left(), (), growth).asks.tolist()} for growth in (OF_WORTH, FEW)
    ]

    assert asked == [set(QUESTIONS[:4]), {QUESTIONS[3], *QUESTIONS[4:]}]


def test_the_shares_add_up_to_what_the_pair_gets_beyond_one_of_no_worth() -> None:
    trees, asked = grown_both(0.5), left(4).asked.taken(np.array([7]))

    assert trees.common == trees.predict(plain())[0]
    assert trees.shares(asked).sum() == pytest.approx(trees.predict(asked)[0] - trees.common, abs=1e-9)


def test_no_records_get_no_prediction() -> None:
    assert len(grown(left()).predict(left().asked.taken(np.zeros(0, dtype=np.int64)))) == 0


def test_more_records_than_a_block_are_predicted_alike() -> None:
    trees, asked = grown(left()), left(5, records=5_000).asked

    np.testing.assert_array_equal(
        trees.predict(asked)[4_990:], trees.predict(asked.taken(np.arange(4_990, 5_000)))
    )


BREAKS: dict[str, tuple[str, Callable[[Trees], Trees]]] = {
    "a loop": ("a node leads to none below it", lambda trees: replace(trees, left=0 * trees.left)),
    "a root beyond": ("a root is no node", lambda trees: replace(trees, roots=trees.roots + 10**6)),
    "a question beyond": (
        "a node asks what is no question",
        lambda trees: replace(trees, questions=trees.questions[:1]),
    ),
    "a set beyond": (
        "a node asks for a set that there is not",
        lambda trees: replace(trees, words=trees.words[1:]),
    ),
    "a value short": (
        "its nodes have parts of different lengths",
        lambda trees: replace(trees, value=trees.value[1:]),
    ),
}


@pytest.mark.parametrize("damage", BREAKS)
def test_damaged_trees_are_recognised(damage: str) -> None:
    wrong, breaks = BREAKS[damage]

    assert not grown(left()).broken()
    assert breaks(grown(left())).broken() == wrong


def market(together: float) -> pl.DataFrame:
    """Return sales of three years; `together` is what a high second name adds to a high first one (log price)."""
    draws = np.random.default_rng(6)
    one, other = draws.integers(0, 12, (2, 3_000))
    effects = np.linspace(-0.5, 0.5, 12)
    price = 5 + effects[one] + effects[other] + together * effects[one] * effects[other]
    return pl.DataFrame(
        {
            "one": [f"a{number}" for number in one],
            "other": [f"b{number}" for number in other],
            "month": draws.integers(0, 36, 3_000),
            "log_price": price + 0.15 * draws.standard_t(5, 3_000),
        }
    )


ADDITIVE = Specification("log_price", (Term("one", "pooled", ("one",)), Term("other", "pooled", ("other",))))


def judged(frame: pl.DataFrame) -> tuple[SecondStage, float]:
    """Return (the second stage in time order, the share of the mean absolute error that it takes)."""
    settings = FitSettings(lambda known: ADDITIVE, Robust(degrees_of_freedom=5.0))
    origins = choose_origins(frame["month"], step=3, most=12, fewest=40)
    rolled = roll(FrameSource(frame), settings, origins)
    errors = rolled.sales["error"].to_numpy()
    stage, added = learn_in_time_order(
        errors, rolled.sales["origin"].to_numpy(), lambda growth: learn_at_origins(rolled, settings, growth)
    )
    return stage, float(1 - np.abs(errors - added).mean() / np.abs(errors).mean())


def test_what_two_names_are_worth_together_is_learned_and_lowers_later_errors() -> None:
    stage, fall = judged(market(2.0))

    assert stage.used
    assert stage.share > 0.5
    assert fall > 0.1


def test_where_the_names_add_up_nothing_is_added() -> None:
    stage, fall = judged(market(0.0))

    assert not stage.used
    assert fall == 0


def test_where_few_trees_gain_nothing_no_more_are_grown() -> None:
    draws, asked = np.random.default_rng(7), []

    def learn(growth: Growth) -> np.ndarray[Any, np.dtype[np.float64]]:
        asked.append(growth)
        return -errors

    errors, periods = draws.normal(0, 0.2, 900), np.repeat(np.arange(9), 100)
    stage, added = learn_in_time_order(errors, periods, learn)

    assert asked == [TRIAL]
    assert not stage.used
    assert not added.any()


def test_where_few_trees_gain_less_than_its_error_no_more_are_grown() -> None:
    draws, asked = np.random.default_rng(45), []
    errors, periods = draws.normal(0, 0.2, 900), np.repeat(np.arange(9), 100)
    learned = 0.1 * errors + draws.normal(0, 0.1, 900)

    def learn(growth: Growth) -> np.ndarray[Any, np.dtype[np.float64]]:
        asked.append(growth)
        return learned

    stage, added = learn_in_time_order(errors, periods, learn)

    assert 0 < stage.gain < stage.error
    assert asked == [TRIAL]
    assert not stage.used
    assert not added.any()


def test_where_few_trees_gain_all_are_grown() -> None:
    draws, asked = np.random.default_rng(7), []

    def learn(growth: Growth) -> np.ndarray[Any, np.dtype[np.float64]]:
        asked.append(growth)
        return errors.copy()

    errors, periods = draws.normal(0, 0.2, 900), np.repeat(np.arange(9), 100)
    _, added = learn_in_time_order(errors, periods, learn)

    assert asked == [TRIAL, RESIDUALS, PRICES]
    np.testing.assert_allclose(added[100:], errors[100:])


@pytest.mark.parametrize(("one", "other", "weight"), [(1.0, 0.0, 0.0), (0.0, 1.0, 1.0), (1.0, 1.0, 0.5)])
def test_the_kind_of_trees_that_gains_most_is_taken_and_both_where_they_err_differently(
    one: float, other: float, weight: float
) -> None:
    draws = np.random.default_rng(8)
    known, periods = draws.normal(0, 0.2, 1_800), np.repeat(np.arange(9), 200)
    noise = draws.normal(0, 0.2, (2, 1_800))
    said = {RESIDUALS: one * known + noise[0], PRICES: other * known + noise[1], TRIAL: known}

    stage, added = learn_in_time_order(
        known + draws.normal(0, 0.1, 1_800), periods, lambda growth: said[growth]
    )

    assert (stage.used, stage.prices) == (True, weight)
    assert np.corrcoef(added[200:], known[200:])[0, 1] > 0.6


def test_trees_that_predict_the_error_are_used() -> None:
    draws = np.random.default_rng(3)
    learned, periods = draws.normal(0, 0.1, 800), np.repeat(np.arange(16), 50)

    stage, shares = measure_second_stage(0.8 * learned + draws.normal(0, 0.1, 800), learned, periods)

    assert stage.used
    assert stage.share == pytest.approx(0.8, abs=3 * stage.share_error)
    assert shares[0] == 0


def test_trees_that_predict_nothing_are_not_used() -> None:
    draws = np.random.default_rng(4)

    stage, _ = measure_second_stage(
        draws.normal(0, 0.1, 800), draws.normal(0, 0.1, 800), np.repeat(np.arange(16), 50)
    )

    assert not stage.used


def test_the_error_of_the_share_is_how_it_scatters_from_market_to_market() -> None:
    draws = np.random.default_rng(5)
    drawn = []
    for _ in range(200):
        learned = draws.normal(0, 0.1, 400)
        stage, _ = measure_second_stage(
            0.5 * learned + draws.normal(0, 0.2, 400), learned, np.repeat(np.arange(20), 20)
        )
        drawn.append((stage.share, stage.share_error))
    shares, errors = np.array(drawn).T

    assert errors.mean() == pytest.approx(shares.std(), rel=0.15)


def test_few_periods_prove_nothing() -> None:
    assert measure_second_stage(np.ones(10), np.ones(10), np.arange(10) // 5)[0] == UNUSED


USED = SecondStage(True, 0.57, 0.0042, 0.0011, 0.05)


def test_the_audit_says_what_the_second_stage_gains_in_per_cent_and_in_money() -> None:
    assert of_second_stage(USED, 210.0, "EUR") == (
        "What attributes are worth together, beyond each alone (learned from what values missed), is counted for 57 %: "
        "errors on later sales fell by 0.42 % of the price (± 0.11): €0.88 (± €0.23) at the median price."
    )


def test_the_audit_says_of_what_trees_have_learned() -> None:
    assert "(learned from prices and from what values missed)" in of_second_stage(
        replace(USED, prices=0.5), 210.0, "EUR"
    )
    assert "(learned from prices)" in of_second_stage(replace(USED, prices=1.0), 210.0, "EUR")


@pytest.mark.parametrize(
    ("stage", "said"),
    [
        (replace(USED, used=False, gain=0.001), "fell by 0.1 % of the price (± 0.11), no more than chance."),
        (replace(USED, used=False, gain=-0.001), "rose by 0.1 % of the price (± 0.11)."),
        (UNUSED, "too few sales came after others to try it."),
    ],
)
def test_the_audit_says_why_the_second_stage_does_not_count(stage: SecondStage, said: str) -> None:
    words = of_second_stage(stage, 0.0, "EUR")

    assert "is not counted" in words
    assert words.endswith(said)


def test_what_trees_say_may_count_for_more_than_all_of_it_and_no_more_than_half_as_much_again() -> None:
    draws = np.random.default_rng(3)
    learned, periods = draws.normal(0, 0.1, 800), np.repeat(np.arange(16), 50)

    shares = [
        measure_second_stage(slope * learned + draws.normal(0, 0.1, 800), learned, periods)[0].share
        for slope in (1.3, 5.0)
    ]

    assert shares == [pytest.approx(1.3, abs=0.15), 1.5]
