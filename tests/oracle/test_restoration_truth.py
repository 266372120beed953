"""What restoring does in total, from the demo's exports, against the known truth of the demo.

The truth is invented (sample_data/truth.py): a treatment buys grades, at the true curve, and costs what
buyers take off for the knowledge of it, more on pairs of an original run. Bounds: of sixty intervals, some share
the same grades, so up to a fifth more may miss than the level allows.
"""

from functools import cache
from json import loads
from math import exp, sqrt
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.hedonic.distributions import student_quantile
from pipeline.shipped import shipped
from sample_data import truth
from tests.restorations import demo_report

SURE = student_quantile(0.9, np.inf)
ERAS = ("first", "second", "early reissue", "late reissue")
ORIGINALS = ERAS[:2]


def true_climb(grade: float, gain: float) -> float:
    """Return what a rise in grade adds to the log price, between half grades on a straight line."""
    ends = sorted(truth.GRADES)
    curve = [truth.GRADES[end] for end in ends]
    return float(np.interp(min(grade + gain, truth.RESTORED_GRADE_LIMIT), ends, curve) - truth.GRADES[grade])


def true_discount(treatment: str, era: str | None) -> float:
    more = truth.TREATMENTS_ON_ORIGINALS[treatment] if era in ORIGINALS else 0.0
    return truth.TREATMENTS[treatment] + more


@cache
def effects() -> pl.DataFrame:
    found = demo_report().effects
    known = [
        true_climb(grade, truth.GRADE_GAIN[treatment]) + true_discount(treatment, era)
        for treatment, era, grade in found.select("treatment", "era", "grade").iter_rows()
    ]
    return found.with_columns(pl.Series("truth", known)).with_columns(
        ((pl.col("total") - pl.col("truth")) / pl.col("total_error")).alias("gap")
    )


def test_every_treatment_is_judged_in_every_era_at_every_grade() -> None:
    assert effects().height == len(truth.TREATMENTS) * len(ERAS) * 3


@pytest.mark.parametrize("treatment", list(truth.TREATMENTS))
def test_the_total_effect_of_a_treatment_is_in_its_range(treatment: str) -> None:
    gaps = np.abs(effects().filter(pl.col("treatment") == treatment)["gap"].to_numpy())

    assert np.mean(gaps < SURE) >= 0.65
    assert gaps.max() < 2.6


def test_eight_in_ten_total_effects_are_in_their_ranges() -> None:
    assert np.mean(np.abs(effects()["gap"].to_numpy()) < SURE) >= 0.75


def test_the_errors_of_the_total_effects_are_neither_too_small_nor_too_large() -> None:
    assert 0.5 < sqrt(np.mean(effects()["gap"].to_numpy() ** 2)) < 1.35


def test_the_total_is_found_and_not_the_discount_at_a_fixed_grade() -> None:
    # at a fixed grade every treatment costs; a deep clean pays in every era
    cleaned = effects().filter((pl.col("treatment") == "deep clean") & (pl.col("grade") == 6))

    assert (cleaned["discount"] < 0.03).all()
    assert (cleaned["total"] > 0).all()


def test_the_grades_that_a_treatment_gains_are_found() -> None:
    gains = demo_report().gains

    for place, treatment in enumerate(gains.treatments):
        error = sqrt(gains.covariance[place, place])
        assert gains.mean[place] == pytest.approx(truth.GRADE_GAIN[treatment], abs=2 * error)


def test_the_pairs_sold_before_and_after_agree_with_the_regression() -> None:
    judged = demo_report().evidence.judged

    assert judged.height >= 4
    assert not judged["disagree"].any()


def test_untouched_pairs_gain_nothing_by_being_sold_again() -> None:
    evidence = demo_report().evidence

    assert evidence.untouched >= 30
    assert evidence.drift == pytest.approx(0, abs=2.5 * evidence.drift_error)


def true_net_gain(row: dict[str, Any], era: str | None, grade: float) -> float:
    """Return the true net gain of a piece of work, its grade risen by the average."""
    known = loads((shipped("sample_data") / "expected.json").read_text(encoding="utf-8"))
    before = known["fair_values_of_stock"][row["label"]]
    done, cured = row["treatments"], row["cures"]
    effect = true_climb(grade, sum(truth.GRADE_GAIN[name] for name in done))
    effect += sum(true_discount(name, era) for name in done)
    effect -= sum(truth.DEFECTS[name] for name in cured)
    return float(before * (exp(effect) - 1) - row["cost"])


def test_the_net_gain_of_work_on_the_stock_is_in_its_range() -> None:
    report = demo_report()
    inside = []
    for row in report.works.iter_rows(named=True):
        pair = report.pairs[row["pair"]]
        assert pair.grade is not None
        gain = true_net_gain(row, pair.era or "second", pair.grade)  # the one of unknown era: by its stamp
        inside.append(row["low"] <= gain <= row["high"])

    assert len(inside) > 60
    assert np.mean(inside) >= 0.8
