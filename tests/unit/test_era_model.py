"""The chance of each era from what is seen: by hand, on drawn markets of known truth, and where little is known."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray
from scipy.stats import chi2

from pipeline.market import era_reliability
from pipeline.market.era_model import EraModel, Weights, learn_eras
from pipeline.market.era_reliability import judge_odds, reliability_bins
from pipeline.market.evidence import SEEN

Array = NDArray[np.float64]

FIRST_DAY = date(2015, 1, 1)
ERAS = ("first", "reissue")
SCHEMA = {"record_id": pl.String, "day": pl.Date, "era": pl.String, "silhouette": pl.String} | dict.fromkeys(
    SEEN, pl.String
)


def records(eras: Sequence[str], **seen: Sequence[str | None]) -> pl.DataFrame:
    """Return one record a day of each era in turn, all of one silhouette unless it is among what is `seen`."""
    count = len(eras)
    columns: dict[str, Sequence[object]] = {
        "record_id": [f"{number:07d}" for number in range(count)],
        "day": [FIRST_DAY + timedelta(days=number // 10) for number in range(count)],
        "era": eras,
        "silhouette": ["Gannet Hi"] * count,
    }
    columns |= {name: seen.get(name, [None] * count) for name in SEEN}
    return pl.DataFrame(columns | dict(seen), schema=SCHEMA)


def chances(model: EraModel, **seen: str) -> Array:
    """Return the chances of a Gannet Hi, unless another silhouette is among what is `seen`."""
    row = {"silhouette": "Gannet Hi"} | dict.fromkeys(SEEN) | seen
    found: Array = model.chances(
        pl.DataFrame([row], schema={"silhouette": pl.String} | dict.fromkeys(SEEN, pl.String))
    )[0]
    return found


def drawn(count: int, *, seed: int, together: float) -> pl.DataFrame:
    """Return drawn records of two eras: overlay and lasting repeat what the box shows with a chance of `together`.

    Three in ten of each are not stated.
    """
    random = np.random.default_rng(seed)
    first = random.random(count) < 0.4
    had = np.where(first, 0.75, 0.3)
    box = random.random(count) < had
    seen = {"box": box, "tags": random.random(count) < np.where(first, 0.2, 0.5)}
    for name in ("overlay", "lasting"):
        seen[name] = np.where(random.random(count) < together, box, random.random(count) < had)
    stated = {
        name: np.where(random.random(count) < 0.3, None, np.where(has, "yes", "no")).tolist()
        for name, has in seen.items()
    }
    return records(np.where(first, *ERAS).tolist(), **stated)


def hosmer_lemeshow(given: Array, were: Array, groups: int = 10) -> float:
    """Return the chance of a misfit so large if the chances are right (Hosmer & Lemeshow 1980), on new records."""
    order = np.argsort(given, kind="stable")
    misfit = 0.0
    for group in np.array_split(order, groups):
        expected = given[group].sum()
        misfit += (were[group].sum() - expected) ** 2 / (expected * (1 - expected / len(group)))
    return float(chi2.sf(misfit, groups))


def on_new_records(model: EraModel, later: pl.DataFrame) -> float:
    return hosmer_lemeshow(model.chances(later)[:, 0], (later["era"] == "first").to_numpy().astype(float))


def test_one_thing_seen_follows_bayes_rule_as_in_the_screening_test() -> None:
    # The textbook case of a screening test (Eddy 1982, as often retold; from memory): 1 in 100 has it, the test
    # finds 80 % of those and is wrong about 9.6 % of the others; of those it finds, 7.8 % have it. 400,000 records,
    # so that what is shrunk does not show.
    ill, well = 4_000, 396_000
    found = round(0.8 * ill), round(0.096 * well)
    eras = ["first"] * ill + ["reissue"] * well
    box = (
        *(["yes"] * found[0] + ["no"] * (ill - found[0])),
        *(["yes"] * found[1] + ["no"] * (well - found[1])),
    )

    assert chances(learn_eras(records(eras, box=box), ERAS), box="yes")[0] == pytest.approx(0.078, abs=0.001)


def test_a_ratio_is_shrunk_to_one_by_the_records_it_is_expected_to_have() -> None:
    # 100 first with 80 boxes, 100 re-issues with 20: 100 boxes, 50 expected of each. All: (80 + 20) / (50 + 20);
    # the silhouette's own: (80 + 100 × 10 / 7) / (50 + 100), and of re-issues (20 + 100 × 4 / 7) / 150.
    eras = ["first"] * 100 + ["reissue"] * 100
    box = ["yes"] * 80 + ["no"] * 20 + ["yes"] * 20 + ["no"] * 80
    model = learn_eras(records(eras, box=box), ERAS)
    weighed = np.array([(80 + 1000 / 7) / 150, (20 + 400 / 7) / 150]) ** model.weights.own[SEEN.index("box")]

    assert chances(model, box="yes") == pytest.approx(weighed / weighed.sum())


def test_three_things_that_say_the_same_count_as_one() -> None:
    same = drawn(4_000, seed=1, together=1.0)
    same = same.with_columns(overlay="box", lasting="box")
    weights = learn_eras(same, ERAS).weights
    of_all = weights.of(np.array([[name in ("box", "overlay", "lasting") for name in SEEN]]))[0]

    assert sum(of_all[SEEN.index(name)] for name in ("box", "overlay", "lasting")) == pytest.approx(
        1.0, abs=0.1
    )


@pytest.mark.parametrize("together", [0.0, 0.5, 0.9])
def test_chances_hold_on_new_records_whether_or_not_things_come_together(together: float) -> None:
    model = learn_eras(drawn(20_000, seed=2, together=together), ERAS)

    assert on_new_records(model, drawn(1_000, seed=3, together=together)) > 0.01


def test_without_weights_things_that_come_together_make_chances_too_sure() -> None:
    learned = learn_eras(drawn(20_000, seed=2, together=0.9), ERAS)
    kinds = len(SEEN)
    unweighted = replace(learned, weights=Weights(np.ones(kinds), np.zeros((kinds, kinds))))

    assert on_new_records(unweighted, drawn(1_000, seed=3, together=0.9)) < 1e-6


def test_what_nobody_stated_changes_nothing() -> None:
    model = learn_eras(drawn(2_000, seed=4, together=0.0), ERAS)

    assert chances(model) == pytest.approx(model.prior * model.of_silhouette[0], abs=1e-12)


def test_a_value_that_no_record_has_tells_nothing() -> None:
    model = learn_eras(drawn(2_000, seed=4, together=0.0), ERAS)

    assert chances(model, box="a crate") == pytest.approx(chances(model))


def test_eight_records_give_back_nearly_the_prior() -> None:
    few = records(["first"] * 8, box=["yes"] * 8, silhouette=["Gannet Hi", "Plover Lo"] * 4)
    model = learn_eras(few, ERAS, {"first": 0.3, "reissue": 0.7})

    assert chances(model, box="yes")[0] == pytest.approx(0.3, abs=0.03)


def test_eight_records_that_all_differ_give_back_nearly_the_prior() -> None:
    few = records(["first"] * 4 + ["reissue"] * 4, box=["yes"] * 4 + ["no"] * 4)
    model = learn_eras(few, ERAS, {"first": 0.3, "reissue": 0.7})

    assert chances(model, box="yes")[0] == pytest.approx(0.3, abs=0.06)


def test_without_a_record_the_prior_stands() -> None:
    model = learn_eras(records([]), ERAS, {"first": 0.3, "reissue": 0.7})

    assert chances(model, box="yes") == pytest.approx([0.3, 0.7])


def test_an_era_without_a_record_keeps_a_chance() -> None:
    model = learn_eras(records(["first"] * 50), ERAS)

    assert chances(model)[1] == pytest.approx(
        0.5 / 51 * 80 / 130 / (0.5 / 51 * 80 / 130 + (50 + 80 * 50.5 / 51) / 130)
    )


def test_silhouettes_that_differ_keep_their_own_shares() -> None:
    eras = ["first"] * 60 + ["reissue"] * 60
    silhouettes = ["Gannet Hi"] * 60 + ["Plover Lo"] * 60
    model = learn_eras(records(eras, silhouette=silhouettes), ERAS)

    assert chances(model)[0] > 0.9
    assert chances(model, silhouette="Plover Lo")[0] < 0.1


def test_silhouettes_that_are_alike_share_what_is_known() -> None:
    eras = ["first", "reissue"] * 60 + ["first"] * 2
    silhouettes = ["Plover Lo"] * 60 + ["Dunlin"] * 60 + ["Gannet Hi"] * 2
    model = learn_eras(records(eras, silhouette=silhouettes), ERAS)

    assert chances(model)[0] == pytest.approx(0.52, abs=0.02)


def test_what_only_tells_the_silhouette_tells_no_era() -> None:
    # each silhouette has one overlay, whatever its era
    eras = (["first"] * 90 + ["reissue"] * 10) + (["first"] * 10 + ["reissue"] * 90)
    names = ["Gannet Hi"] * 100 + ["Plover Lo"] * 100
    overlays = ["leather"] * 100 + ["textile"] * 100
    model = learn_eras(records(eras, silhouette=names, overlay=overlays), ERAS)

    assert chances(model, overlay="leather") == pytest.approx(chances(model))


def test_a_silhouette_may_tell_by_what_tells_nothing_elsewhere() -> None:
    eras = (["first"] * 300 + ["reissue"] * 300) * 2
    names = ["Gannet Hi"] * 600 + ["Plover Lo"] * 600
    overlays = ["leather"] * 300 + ["vinyl"] * 300 + ["vinyl"] * 300 + ["leather"] * 300
    model = learn_eras(records(eras, silhouette=names, overlay=overlays), ERAS)

    assert chances(model, overlay="leather")[0] > 0.7
    assert chances(model, silhouette="Plover Lo", overlay="leather")[0] < 0.3


@pytest.mark.parametrize(
    "level", ["", " ", "a\x1fb", "=1+1", "x" * 10_000, "\u202e😀", "Gannet Hi yes", "-1", "null"]
)
def test_odd_values_give_chances_that_come_to_one(level: str) -> None:
    some = drawn(200, seed=5, together=0.0).with_columns(box=pl.lit(level), factory_code=pl.lit(level))
    found = chances(learn_eras(some, ERAS), box=level, factory_code=level, silhouette=level)

    assert found.sum() == pytest.approx(1.0)
    assert (found > 0).all()


def test_the_order_of_records_changes_nothing() -> None:
    some = drawn(500, seed=6, together=0.5)
    turned = some.sample(fraction=1.0, shuffle=True, seed=1)

    assert (
        chances(learn_eras(turned, ERAS), box="yes").tolist()
        == chances(learn_eras(some, ERAS), box="yes").tolist()
    )


def test_records_of_no_era_of_the_market_file_are_left_out() -> None:
    some = drawn(300, seed=6, together=0.0)
    others = some.with_columns(era=pl.lit("forgotten"), record_id=pl.lit("x") + pl.col("record_id"))

    assert learn_eras(pl.concat([some, others]), ERAS).records == 300


def test_a_record_is_judged_from_earlier_days_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    days: list[tuple[date, date]] = []
    real = learn_eras

    class Watched(EraModel):
        """A model that notes the last day that it learned from beside the first that it judges."""

        def chances(self, levels: pl.DataFrame, years: Array | None = None) -> Array:
            days.append((learned_until[-1], levels["day"].min()))  # type: ignore[arg-type]
            return super().chances(levels, years)

    learned_until: list[date] = []

    def watched(
        levels: pl.DataFrame, eras: Sequence[str], prior: Mapping[str, float] | None = None
    ) -> EraModel:
        learned_until.append(levels["day"].max())  # type: ignore[arg-type]
        return Watched(**vars(real(levels, eras, prior)))

    monkeypatch.setattr(era_reliability, "learn_eras", watched)
    judge_odds(drawn(400, seed=7, together=0.0), ERAS)

    assert len(days) == era_reliability.SPANS
    assert all(until < judged for until, judged in days)


def test_each_later_record_is_judged_once() -> None:
    found = judge_odds(drawn(400, seed=7, together=0.0), ERAS)

    assert found is not None
    assert sum(one.times for one in found.bins) == 2 * found.judged == 2 * (400 - 80)


def test_chances_that_tell_of_the_era_are_better_than_the_silhouette_alone() -> None:
    found = judge_odds(drawn(2_000, seed=8, together=0.0), ERAS)

    assert found is not None
    assert found.gain > 3 * found.gain_error
    assert found.right == pytest.approx(found.right_before * np.exp(found.gain))


def test_later_records_bear_out_the_chances_within_their_sampling_error() -> None:
    found = judge_odds(drawn(6_000, seed=9, together=0.5), ERAS)

    assert found is not None
    off = [
        (one.were - one.given) / one.error for one in found.bins if one.low >= 0.5
    ]  # of two eras, one tells all
    assert float(np.sum(np.square(off))) < chi2.ppf(0.99, len(off))


def test_few_records_are_not_judged() -> None:
    assert judge_odds(drawn(60, seed=1, together=0.0), ERAS) is None


def test_records_of_one_day_are_not_judged() -> None:
    assert judge_odds(drawn(300, seed=1, together=0.0).with_columns(day=pl.lit(FIRST_DAY)), ERAS) is None


def test_bins_are_counted_as_by_hand() -> None:
    given = np.array([[0.2, 0.8], [0.25, 0.75], [0.25, 0.75]])
    low, middle, high = reliability_bins(given, np.array([1, 0, 1]))

    assert (low.times, low.given, low.were) == (3, pytest.approx(0.7 / 3), pytest.approx(1 / 3))
    assert low.error == pytest.approx(np.sqrt(0.16 + 2 * 0.1875) / 3)
    assert (middle.low, middle.times, middle.were) == (0.7, 2, 0.5)
    assert (high.low, high.high, high.were) == (0.8, 0.9, 1.0)
