"""What restoring does in total, by the regression and by pairs sold before and after."""

from dataclasses import replace
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.restoration.cautions import work_cautions
from pipeline.answers.restoration.grade_gains import estimate_gains
from pipeline.answers.restoration.restoration import FEWEST_PAIRS, Evidence, total_effects, weigh_evidence
from pipeline.answers.restoration.tables import (
    best_works_table,
    effects_table,
    restoration_sheet,
    state_less,
    state_next,
)
from pipeline.config import Model, ModelTerm
from pipeline.market.model import DEFAULT_TERMS, pair_factors
from pipeline.market.pair import Pair
from reports.restoration.page import restoration_page
from sample_data import scenario
from tests.demo_ledger import demo_sales
from tests.drawn import fitted_plainly
from tests.restorations import VALUED_ON, demo_market_fitted, demo_report, normal, resold, sale


@cache
def evidence_of(lift: float, restored: int = 30, untouched: int = 30) -> Evidence:
    """Return the evidence of pairs of equal months and venues: those reglued gain `lift` over the others."""
    noise = 0.1 * normal(restored + untouched, seed=4)
    pairs = resold(
        *(
            (
                sale(f"{number} a"),
                sale(
                    f"{number} b",
                    log_price=5.0 + noise[number] + (lift if number < restored else 0.0),
                    treatments=["reglue"] if number < restored else [],
                ),
            )
            for number in range(restored + untouched)
        )
    )
    return weigh_evidence(demo_market_fitted(), pairs, scenario.market())


def effects_by(evidence: Evidence, *, grades: tuple[float, ...] = (6.0,)) -> pl.DataFrame:
    market = scenario.market()
    template = pair_factors((Pair(silhouette=""),), as_of=VALUED_ON)
    return total_effects(evidence, estimate_gains(resold(), market), market, template, grades=grades)


def reglued(evidence: Evidence, column: str) -> float:
    rows = effects_by(evidence).filter(pl.col("treatment") == "reglue", pl.col("era") == "first")
    return float(rows[column][0])


def test_the_total_is_the_grade_gained_less_the_discount() -> None:
    rows = effects_by(evidence_of(0.3))

    assert (rows["grade_effect"] + rows["discount"] - rows["total"]).abs().max() == pytest.approx(
        0, abs=1e-12
    )


def test_the_change_of_restored_pairs_against_untouched_ones_is_found() -> None:
    judged = evidence_of(0.3).judged.row(0, named=True)

    assert judged["treatment"] == "reglue"
    assert judged["before_after"] == pytest.approx(0.3, abs=2.5 * judged["before_after_error"])


def test_checks_far_apart_disagree() -> None:
    assert evidence_of(1.0).judged["disagree"].to_list() == [True]


def test_checks_near_each_other_agree() -> None:
    regression = float(evidence_of(0.3).judged["regression"][0])

    assert evidence_of(regression).judged["disagree"].to_list() == [False]


def test_the_combined_effect_is_between_the_two_checks() -> None:
    evidence = evidence_of(0.6)
    regression, both, pairs = (reglued(evidence, name) for name in ("regression", "total", "before_after"))

    assert regression < both < pairs


def test_a_second_check_makes_the_error_no_larger() -> None:
    evidence = evidence_of(0.3)

    assert reglued(evidence, "total_error") < reglued(evidence, "regression_error")


def test_too_few_restored_pairs_leave_the_regression_alone() -> None:
    evidence = evidence_of(0.6, restored=FEWEST_PAIRS - 1)

    assert "no treatment was done to 3 pairs" in evidence.why_none
    assert evidence.fit is evidence.before


def test_without_untouched_pairs_there_is_nothing_to_compare_with() -> None:
    assert "only 2 pairs were sold twice without work" in evidence_of(0.6, untouched=2).why_none


def test_no_resale_at_all_leaves_the_regression_alone() -> None:
    evidence = weigh_evidence(demo_market_fitted(), resold(), scenario.market())

    assert evidence.judged.height == 0
    assert np.array_equal(evidence.fit.coefficients, demo_market_fitted().fit.coefficients)


def test_at_the_grade_limit_a_treatment_gains_no_grade() -> None:
    rows = effects_by(evidence_of(0.3), grades=(9.0,))

    assert rows["gain"].to_list() == [0.0] * rows.height
    assert (rows["total"] - rows["discount"]).abs().max() == pytest.approx(0, abs=1e-12)


def test_near_the_grade_limit_a_treatment_gains_what_is_left() -> None:
    swapped = effects_by(evidence_of(0.3), grades=(8.5,)).filter(pl.col("treatment") == "sole swap")

    assert swapped["gain"].to_list() == [0.5] * swapped.height


def test_how_sizes_were_read_is_said_of_a_stock_list_once() -> None:
    stock = [Pair("Gannet Hi", read_as=("Size 9 names no system.",))] * 2
    evidence = weigh_evidence(demo_market_fitted(), resold(), scenario.market())

    told = work_cautions(evidence, effects_by(evidence), stock)

    assert told.count("Size 9 names no system.") == 1


def effects_without(**levels: str) -> pl.DataFrame:
    """Return the effects of reglueing as a market tells them in which no reglued pair has these levels."""
    reglued_one = pl.col("treatments").list.contains("reglue") & pl.all_horizontal(
        pl.col(name) == level for name, level in levels.items()
    )
    sales = demo_sales().filter(~reglued_one.fill_null(value=False))
    evidence = weigh_evidence(fitted_plainly(sales), resold(), scenario.market())
    return effects_by(evidence).filter(pl.col("treatment") == "reglue")


def count_reglued(era: str | None = None) -> int:
    """Return the demo's sales of reglued pairs, of an era or of all."""
    reglued_ones = demo_sales().filter(pl.col("treatments").list.contains("reglue"))
    return reglued_ones.filter(pl.col("era") == era).height if era else reglued_ones.height


def test_an_effect_in_an_era_without_such_sales_counts_none() -> None:
    effects = effects_without(era="first")

    assert dict(effects.select("era", "sales").iter_rows())["first"] == 0


def test_an_effect_without_sales_of_its_era_is_borrowed_from_those_of_the_others() -> None:
    effects = effects_without(era="first")
    borrowed = dict(effects.select("era", "borrowed").iter_rows())

    assert borrowed["first"] == count_reglued() - count_reglued("first")


def test_an_effect_with_sales_of_its_era_is_not_borrowed() -> None:
    effects = effects_without(era="first").filter(pl.col("era") == "second")

    assert effects.select("sales", "borrowed").rows() == [(count_reglued("second"), 0)]


def test_where_no_term_separates_eras_all_sales_count_for_the_effect() -> None:
    terms = tuple(term for term in DEFAULT_TERMS if term.name != "treatments in era")
    own = Model(
        terms=tuple(ModelTerm(name=term.name, kind=term.kind, columns=term.columns) for term in terms)
    )
    market = scenario.market().model_copy(update={"model": own})
    effects = effects_by(weigh_evidence(fitted_plainly(demo_sales(), market=market), resold(), market))

    assert effects.filter(pl.col("treatment") == "reglue").select("sales", "borrowed").unique().rows() == [
        (count_reglued(), 0)
    ]


def test_a_borrowed_effect_is_said_to_be_borrowed() -> None:
    report = replace(demo_report(), effects=effects_without(era="first"))

    page = restoration_page(report, business="Shop")
    first = effects_table(report).rows.filter(pl.col("era") == "first")

    assert first.select("sales", "borrowed").rows() == [(0, count_reglued() - count_reglued("first"))]
    assert "no sale has that work in that era" in page


def test_the_plan_comes_first_in_the_terminal() -> None:
    assert [table.key for table in restoration_sheet(demo_report()).tables][:2] == ["plan", "effects"]


def test_each_pair_of_the_plan_is_shown_with_the_work_of_the_plan() -> None:
    report = demo_report()
    planned = set(restoration_sheet(report).table("plan").rows.select("pair", "treatments").rows())
    shown = best_works_table(report).rows.filter(pl.col("chosen") == "yes")
    assert set(shown.select("pair", "treatments").rows()) == planned


def test_a_pair_on_which_the_plan_does_less_than_would_gain_most_is_named() -> None:
    report = demo_report()
    works = report.works.with_row_index()
    best = works.unique("pair", keep="first", maintain_order=True)["index"].to_list()
    assert report.plan
    less = [works["label"][row] for row in report.plan.chosen if row not in best]
    assert less
    assert state_less(report).startswith(f"On {', '.join(less)} the plan does less")


def test_with_all_the_hours_and_money_the_plan_does_what_gains_most() -> None:
    assert state_less(demo_report(hours=1000.0, money=10000.0)) == ""


def test_more_hours_and_money_that_add_nothing_are_said_to() -> None:
    assert state_next(demo_report(hours=1000.0, money=10000.0)).startswith(
        "More hours or money would add next to"
    )


def test_the_list_of_the_plan_ends_with_its_total() -> None:
    plan = restoration_sheet(demo_report()).table("plan")

    assert plan.note.startswith(f"Total: {plan.rows['hours'].sum():g} hours, ")
