"""The audit: what it says of a market whose truth is known, and of markets too small to be audited."""

import re
from collections.abc import Callable
from datetime import date
from functools import cache
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.answers.audit.answer import LEVELS, audit
from pipeline.answers.audit.figures import TOO_NARROW, Audit
from pipeline.answers.audit.naive import naive_prices
from pipeline.answers.audit.residuals import most_influential
from pipeline.answers.audit.tables import audit_sheet
from pipeline.answers.audit.words import of_margin, of_ratio, of_sample, of_unbanded
from pipeline.errors import FitError
from pipeline.hedonic.accuracy import Margin, accuracy, margin
from pipeline.hedonic.coverage import coverage
from pipeline.hedonic.residuals import residuals
from pipeline.terminal.sheet import show_sheet
from reports.audit.page import audit_page
from tests import drawn

TODAY = date(2026, 10, 1)


@cache
def audited() -> Audit:
    return audit(drawn.sales(1500, 11), drawn.scenario_market(), as_of=TODAY)


def test_the_value_beats_both_naive_pricers() -> None:
    ours, *naive = audited().pricers

    assert ours.name == "pairband"
    assert [pricer.name for pricer in naive] == ["last comparable", "median of comparables"]
    for pricer in naive:
        assert pricer.margin is not None
        assert pricer.margin.low > 0


def test_the_bands_of_honest_sales_hold_up() -> None:
    assert audited().verdict.outcome == "held up"
    assert audited().verdict.exit_code == 0


def test_the_sales_that_pull_are_those_of_the_fit_that_is_stored() -> None:
    sales = drawn.sales_falling_in_grade()
    stored = drawn.fitted_plainly(sales).fit

    judged = audit(sales, drawn.scenario_market(), as_of=TODAY).influential

    ordered = sales.sort("record_id")
    expected = most_influential(ordered, residuals(stored, ordered))
    assert [one.record_id for one in judged] == [one.record_id for one in expected]
    assert [one.pull for one in judged] == pytest.approx([one.pull for one in expected], abs=1e-6)


def test_every_level_is_shown_for_all_sales_and_for_each_group() -> None:
    kinds = {(row.kind, row.coverage.level) for row in audited().coverages}

    assert kinds == {
        (kind, level) for kind in ("all", "era", "grade", "price fifth") for level in (0.5, 0.8, 0.95)
    }


def test_the_groups_of_a_kind_are_all_the_sales_together() -> None:
    rows = [row for row in audited().coverages if row.coverage.level == 0.8]
    whole = next(row.coverage.sales for row in rows if row.kind == "all")

    for kind in ("era", "grade", "price fifth"):
        assert sum(row.coverage.sales for row in rows if row.kind == kind) == whole


def test_eras_stand_in_the_order_of_the_market_file() -> None:
    names = [era.name for era in drawn.scenario_market().eras]
    groups = [
        row.group for row in audited().coverages if row.kind == "era" and row.coverage.level == LEVELS[0]
    ]
    assert groups == [name for name in names if name in groups]


def test_the_support_map_lists_eras_in_the_order_of_the_market_file() -> None:
    names = [era.name for era in drawn.scenario_market().eras]
    first = audited().support[0].silhouette
    assert [cell.era for cell in audited().support if cell.silhouette == first] == names


def test_a_ratio_that_exact_values_would_show_too_is_no_fault_of_the_values() -> None:
    prb = next(figure for figure in audited().ratios if figure.name == "PRB")
    assert prb.by_scatter is not None
    assert prb.low is not None
    assert prb.high is not None
    assert (prb.low <= prb.by_scatter <= prb.high, prb.verdict) == (True, "scatter alone")


def test_signed_per_cents_of_the_ratio_study_have_a_minus_sign() -> None:
    assert "moves by \u2212" in of_ratio("PRB", -0.149, -0.151)


def test_the_margin_over_a_naive_pricer_has_a_minus_sign() -> None:
    assert "\u22120.5 points (\u22121.0 to +0.1)" in of_margin(
        "last comparable", Margin(-0.005, -0.01, 0.001)
    )


def test_the_audit_says_why_fewer_sales_had_a_band_than_were_priced() -> None:
    note = audit_sheet(audited()).table("bands").note
    assert note.startswith(f"{audited().priced:,} later sales were priced, and ")


def test_where_every_sale_that_was_priced_had_a_band_nothing_is_said() -> None:
    assert of_unbanded(900, 900) == ""


def test_every_figure_has_plain_words() -> None:
    found = audited()

    told = [*found.pricers, *found.coverages, *found.ratios, *found.errors, found.verdict]
    assert all(len(each.words) > 20 and each.words.endswith(".") for each in told)


def test_the_support_map_counts_every_sale() -> None:
    assert sum(cell.sales for cell in audited().support) == audited().sales == 1500


def test_ten_sales_that_draw_the_fit_are_named_the_strongest_first() -> None:
    pulls = [abs(np.log1p(sale.pull)) for sale in audited().influential]

    assert len(pulls) == 10
    assert pulls == sorted(pulls, reverse=True)


def test_a_sale_after_the_day_is_not_known() -> None:
    early = audit(drawn.sales(1500, 11), drawn.scenario_market(), as_of=date(2023, 6, 30))

    assert early.sales < 1500
    assert early.last_priced is not None
    assert early.last_priced <= date(2023, 6, 30)


def test_before_the_first_sale_there_is_nothing_to_audit() -> None:
    with pytest.raises(FitError, match="no sale that can be priced lies on or before 2001-01-01"):
        audit(drawn.sales(1500, 11), drawn.scenario_market(), as_of=date(2001, 1, 1))


def test_fifty_nine_sales_prove_nothing_and_it_says_so() -> None:
    few = audit(drawn.sales(1500, 11).head(59), drawn.scenario_market(), as_of=TODAY)

    assert few.verdict.outcome == "unproven"
    assert few.verdict.exit_code == 0
    assert "59 sales are too few" in few.verdict.words
    assert few.priced == 0


def small(count: int) -> Audit:
    """Return the audit of so many sales, spread over the years."""
    some = drawn.sales(1500, 11).sample(count, seed=1)
    return audit(some, drawn.scenario_market(), as_of=TODAY)


NOT_A_NUMBER = re.compile(r"\bnan\b", re.IGNORECASE)
SIZES = pytest.mark.parametrize("count", [6, 57, 80])
"""Too few to be priced in time order; and just enough, with groups none of which had a band before it."""


@SIZES
def test_the_terminal_shows_no_number_that_is_none(count: int, capsys: pytest.CaptureFixture[str]) -> None:
    show_sheet(audit_sheet(small(count)))

    assert not NOT_A_NUMBER.search(capsys.readouterr().out)


@SIZES
def test_the_page_shows_no_number_that_is_none(count: int) -> None:
    page = re.sub(r"(?s)<script.*?</script>", "", audit_page(small(count), business="Shop"))

    assert not NOT_A_NUMBER.search(page)


@pytest.mark.parametrize(
    "told",
    [
        "What share of later sales the bands hold is not known yet",
        "nothing is known of the accuracy",
        "is not counted: too few sales came after others to try it",
    ],
)
def test_what_six_sales_cannot_tell_is_said(told: str, capsys: pytest.CaptureFixture[str]) -> None:
    show_sheet(audit_sheet(small(6)))

    assert told in " ".join(capsys.readouterr().out.split())


def test_a_group_without_a_band_known_before_it_has_no_row() -> None:
    assert all(row.coverage.sales > 0 for row in small(80).coverages)


def audit_of_noise(scale: Callable[[np.ndarray[Any, np.dtype[np.int64]]], Any]) -> Audit:
    """Return the audit of sales that scatter more, by this scale of the months of the last three years."""
    sales = drawn.sales(1500, 11)
    months = sales["month"].to_numpy() - sales["month"].to_numpy().max() + 36
    noise = np.random.default_rng(1).normal(0, 1, 1500) * scale(months)
    wild = sales.with_columns(pl.Series("log_price", sales["log_price"].to_numpy() + noise))
    return audit(
        wild.with_columns(price_paid=pl.col("log_price").exp()), drawn.scenario_market(), as_of=TODAY
    )


def test_bands_follow_a_market_that_grows_wilder_every_month() -> None:
    found = audit_of_noise(lambda months: 0.05 * np.exp(0.12 * np.maximum(months, 0)))

    assert found.verdict.outcome == "held up"


def test_a_market_that_grows_wilder_by_half_every_month_has_bands_that_are_too_narrow() -> None:
    """Bands learn from earlier months, so they lag behind: the verdict must say it, and the exit code too."""
    found = audit_of_noise(lambda months: 0.1 * np.exp(0.4 * np.maximum(months - 22, 0)))

    assert found.verdict.outcome == "too narrow"
    assert found.verdict.exit_code == TOO_NARROW


def test_the_naive_pricer_takes_the_last_sale_of_the_narrowest_cell() -> None:
    sales = (
        drawn.sales(1500, 11)
        .head(4)
        .with_columns(
            silhouette=pl.lit("Gannet Hi"),
            colourway=pl.Series(["Kelp", "Kelp", "Buoy Red", "Kelp"]),
            era=pl.lit("first"),
            grade=pl.lit(8.0),
            month=pl.Series([1, 2, 3, 4], dtype=pl.Int32),
            sold_on=pl.Series([date(2020, month, 1) for month in (1, 2, 3, 4)]),
            log_price=pl.Series([5.0, 6.0, 9.0, 7.0]),
        )
    )

    said = naive_prices(sales, sales[[3]].with_columns(origin=pl.lit(4)))

    assert said.row(0) == (6.0, 5.5)


def test_a_coverage_error_grows_where_a_month_misses_as_one() -> None:
    periods = np.repeat(np.arange(10), 30)
    together = np.repeat(np.arange(10) < 8, 30)

    found = coverage(0.8, together, np.ones(300), periods)

    assert found.covered == pytest.approx(0.8)
    assert found.error > 3 * np.sqrt(0.8 * 0.2 / 300)


def test_a_pricer_without_sales_has_no_accuracy() -> None:
    assert accuracy(np.zeros(0)).sales == 0
    assert np.isnan(margin(np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.int64), seed=1).value)


def test_an_audit_of_more_sales_than_are_priced_one_by_one_says_that_it_took_a_sample() -> None:
    assert of_sample(1_000_000) == (
        "A sample of 50,000 of 1,000,000 sales was priced one by one, the same ones each time.",
    )
    assert of_sample(50_000) == ()
