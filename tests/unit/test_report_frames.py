"""The frames behind an appraisal's charts and tables."""

from dataclasses import replace

import pytest

from pipeline.answers.appraisal.tables import adjustments_table
from reports.appraisal.frames import band_frame, comparable_frame, step_frame
from tests.appraisals import common_pair, comparable, pair_outside_the_data, rare_pair


def test_bands_stand_narrowest_first_however_they_come() -> None:
    appraisal = common_pair()
    turned = replace(appraisal, bands=appraisal.bands[::-1])
    assert band_frame(turned)["level"].to_list() == [0.5, 0.8, 0.95]


def test_the_waterfall_begins_at_the_start_and_ends_at_the_median() -> None:
    appraisal = rare_pair()
    steps = step_frame(appraisal)
    assert steps["after"][0] == appraisal.start_price
    assert steps["after"][-1] == appraisal.median


def test_each_step_begins_where_the_one_before_ended() -> None:
    steps = step_frame(rare_pair())
    assert steps["before"][1:-1].to_list() == steps["after"][:-2].to_list()


def test_a_step_without_a_sale_says_so_in_words() -> None:
    steps = step_frame(rare_pair())
    assert steps["words"].to_list()[-2] == "Part: spare laces (no sale)"


def test_a_step_down_is_a_fall_and_one_by_nothing_neither() -> None:
    kinds = dict(zip(step_frame(rare_pair())["words"], step_frame(rare_pair())["kind"], strict=True))
    assert kinds["Silhouette: Plover Lo"] == "fall"
    assert kinds["Size: not known"] == "level"


def test_without_comparables_the_frame_is_empty_and_keeps_its_columns() -> None:
    sales = comparable_frame(pair_outside_the_data())
    assert sales.height == 0
    assert sales.columns == comparable_frame(common_pair()).columns


def test_the_adjustments_of_a_comparable_make_up_its_total() -> None:
    sale = comparable(1, 1000.0)
    total = 1.0
    for line in sale.adjustments:
        total *= line.factor
    assert sale.adjusted_price / sale.price_paid == pytest.approx(total, rel=1e-4)


def test_a_comparable_like_the_subject_has_no_adjustments() -> None:
    assert adjustments_table(replace(comparable(1, 1000.0), adjustments=())).rows.is_empty()
