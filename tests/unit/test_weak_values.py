"""Weak evidence looks weak: which cautions put a value itself in doubt, and where each answer says so."""

import json
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import polars as pl
import pytest

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.cautions import (
    FEW_SALES,
    OLD_DAYS,
    pair_cautions,
    weak_values,
    weakness_column,
    weakness_names,
)
from pipeline.answers.appraisal.sentences import WEAKNESSES
from pipeline.answers.appraisal.tables import appraisal_sheet, appraisals_sheet
from pipeline.answers.consignment.tables import consignment_sheet
from pipeline.answers.era_odds.answer import value_in_doubt
from pipeline.answers.era_odds.tables import FINDING_OUT_NOTHING, finding_out_words
from pipeline.answers.lots.answer import LOOK
from pipeline.answers.restoration.restoration import eras_without_sales
from pipeline.answers.restoration.tables import restoration_sheet, state_plan
from pipeline.hedonic.predict import predict
from pipeline.market.fitted_market import FittedMarket
from pipeline.market.model import pair_factors
from pipeline.market.pair import Pair
from pipeline.terminal.console import show_json
from pipeline.terminal.sheet import show_sheet
from reports.consignment.page import consignment_page
from reports.lots.page import lots_page
from reports.report.stock import StockPair, stock_rows
from sample_data import scenario
from tests import drawn
from tests.demo_ledger import demo_sales
from tests.restorations import demo_report
from tests.upcoming import COMMON, demo_consignment, demo_lots, upcoming_records, valued

LAST_SALE = date(2026, 9, 30)
PAIR = Pair(silhouette="Gannet Hi", colourway="Buoy Red", era="first", foot_mm=271, grade=8.0)


@cache
def one_era() -> tuple[FittedMarket, pl.DataFrame]:
    """Return a market whose every sale is of the second era, and its sales."""
    sales = drawn.sales(1500, 11).filter(pl.col("era") == "second")
    return drawn.fitted_plainly(sales, "one era"), sales


def value(pair: Pair = PAIR, *, as_of: date = LAST_SALE, own: int = 10_000, stale: str = "") -> Appraisal:
    fitted = replace(drawn.fitted(), last_sale=LAST_SALE)
    sales = drawn.sales(1500, 11).filter(pl.col("silhouette") == pair.silhouette)
    return appraise(pair, fitted, drawn.scenario_market(), sales.head(own), as_of=as_of, stale=stale)


def why(appraisal: Appraisal) -> str:
    return weakness_names(appraisal.weak)


def test_a_pair_like_many_that_sold_is_not_weak() -> None:
    assert why(value()) == ""


@pytest.mark.parametrize(("own", "told"), [(FEW_SALES - 1, "too few sales"), (FEW_SALES, "")])
def test_a_value_is_weak_with_under_five_sales_of_its_silhouette(own: int, told: str) -> None:
    assert why(value(own=own)) == told


def test_a_silhouette_that_never_sold_is_weak() -> None:
    assert why(value(replace(PAIR, silhouette="Great Auk"))) == "too few sales"


@pytest.mark.parametrize(("days", "told"), [(OLD_DAYS, ""), (OLD_DAYS + 1, "no recent sales")])
def test_a_value_is_weak_a_quarter_after_the_last_sale(days: int, told: str) -> None:
    assert why(value(as_of=LAST_SALE + timedelta(days=days))) == told


def test_a_day_after_the_last_sale_is_a_caution_and_no_weakness() -> None:
    next_day = value(as_of=LAST_SALE + timedelta(days=1))

    assert any(caution.startswith("Valued 1 day after the last sale") for caution in next_day.cautions)
    assert why(next_day) == ""


def test_a_pair_that_nobody_dated_is_weak() -> None:
    assert why(value(replace(PAIR, era=None))) == "era in doubt"


def test_a_pair_in_better_condition_than_any_that_sold_is_outside_the_data() -> None:
    fitted = drawn.fitted_plainly(drawn.sales(1500, 11).filter(pl.col("grade") <= 8.0))
    found = appraise(
        replace(PAIR, grade=10.0), fitted, drawn.scenario_market(), drawn.sales(1500, 11), as_of=LAST_SALE
    )

    assert "outside the data" in why(found)


def test_a_fit_older_than_the_records_makes_every_value_weak() -> None:
    assert why(value(stale="The records have changed since the fit.")) == "out of date"


def test_bands_that_were_not_tested_make_every_value_weak() -> None:
    fitted = drawn.fitted_plainly(drawn.sales(1500, 11))
    found = appraise(PAIR, fitted, drawn.scenario_market(), drawn.sales(1500, 11), as_of=LAST_SALE)

    assert why(found) == "bands not tested"


def test_an_era_of_which_nothing_sold_is_outside_the_data() -> None:
    fitted, sales = one_era()
    found = appraise(PAIR, fitted, drawn.scenario_market(), sales, as_of=LAST_SALE)

    assert "outside the data" in why(found)
    assert any(caution.startswith("No sale in the records is of this era") for caution in found.cautions)


def test_what_is_not_known_of_a_pair_is_not_said_to_be_shared_by_no_sale() -> None:
    fitted, sales = one_era()
    found = appraise(PAIR, fitted, drawn.scenario_market(), sales, as_of=LAST_SALE)

    shared = [caution for caution in found.cautions if caution.startswith("No sale in the records shares")]
    assert not any(name in caution for caution in shared for name in ("box", "tags", "treatment"))


def test_eras_worth_the_same_make_finding_out_worth_nothing() -> None:
    fitted, sales = one_era()
    doubt = value_in_doubt(PAIR, {"first": 0.5, "late reissue": 0.5}, fitted, sales, as_of=LAST_SALE)

    assert finding_out_words(doubt) == FINDING_OUT_NOTHING


def test_a_value_by_odds_is_weak_for_its_era() -> None:
    doubt = value_in_doubt(
        PAIR,
        {"first": 0.5, "second": 0.5},
        drawn.fitted(),
        drawn.sales(1500, 11).filter(pl.col("silhouette") == "Gannet Hi"),
        as_of=LAST_SALE,
    )

    assert weakness_names(doubt.weak) == "era in doubt"


def test_a_pair_is_weak_for_each_reason_once() -> None:
    weak = value(replace(PAIR, silhouette="Great Auk", era=None), as_of=date(2027, 3, 1))

    assert why(weak) == "too few sales; era in doubt; no recent sales"


def test_every_weakness_is_said_in_words_that_an_appraisal_can_hold() -> None:
    weak = value(replace(PAIR, era=None)).weak

    assert {caution.weakness for caution in weak} <= set(WEAKNESSES.values())
    assert {caution.words for caution in weak} <= set(value(replace(PAIR, era=None)).cautions)


def test_the_terminal_warns_directly_under_the_title_and_before_the_value(
    capsys: pytest.CaptureFixture[str],
) -> None:
    show_sheet(appraisal_sheet(value(own=2)))

    lines = [line for line in capsys.readouterr().out.splitlines() if line]
    assert lines[1] == "! Weak evidence: too few sales."
    assert "about €" in lines[2]


def test_a_sound_value_has_no_warning_before_it(capsys: pytest.CaptureFixture[str]) -> None:
    show_sheet(appraisal_sheet(value()))

    assert "Weak evidence" not in capsys.readouterr().out


def test_a_list_says_for_each_pair_why_it_is_weak() -> None:
    sheet = appraisals_sheet((value(), value(own=2), value(replace(PAIR, era=None))))

    assert sheet.table("pairs").rows["weak"].to_list() == [None, "too few sales", "era in doubt"]
    assert "Weak" in [column.heading for column in sheet.table("pairs").columns]


def test_a_list_of_sound_values_has_no_column_of_weak_ones() -> None:
    sheet = appraisals_sheet((value(), value()))

    assert "Weak" not in [column.heading for column in sheet.table("pairs").columns]


def test_what_makes_all_pairs_of_a_list_weak_is_said_once_above_it() -> None:
    late = LAST_SALE + timedelta(days=OLD_DAYS + 1)
    sheet = appraisals_sheet((value(as_of=late), value(as_of=late, own=2)))

    assert sheet.weak == "Weak evidence: no recent sales."
    assert sheet.table("pairs").rows["weak"].to_list() == [None, "too few sales"]


def test_json_says_why_a_value_is_weak(capsys: pytest.CaptureFixture[str]) -> None:
    show_json(value(own=2))

    (said,) = json.loads(capsys.readouterr().out)["weak"]
    assert said["weakness"] == "too few sales"
    assert said["words"].startswith("Only 2 sales of this silhouette")


def test_a_consignment_of_a_pair_that_nobody_dated_is_weak_under_its_title() -> None:
    undated = demo_consignment(replace(COMMON, era=None))

    assert consignment_sheet(undated).weak == "Weak evidence: era in doubt; bands not tested."


def test_the_consignors_sheet_says_that_it_is_out_of_date_without_a_command() -> None:
    stale = value(stale="The records have changed since the fit: run `pairband fit` again.")
    html = consignment_page(replace(demo_consignment(), weak=stale.weak), business="Tidewrack Pairs")

    assert "Weak evidence: out of date" in html
    assert "pairband fit" not in html


def test_a_lot_that_nobody_dated_is_flagged() -> None:
    undated = set(upcoming_records().filter(pl.col("era").is_null())["row_number"])
    flagged = demo_lots().lots.filter(pl.col("flags").list.contains("era in doubt"))["row_number"]

    assert undated
    assert set(flagged) == undated


def test_a_lot_with_few_sales_of_its_silhouette_is_to_be_looked_at_first() -> None:
    lots = demo_lots().lots
    worth_a_bid = lots.filter(pl.col("verdict") == "bid")["row_number"][0]
    records = upcoming_records().filter(pl.col("row_number") == worth_a_bid)
    model = records["silhouette"][0]

    few = valued(records, sales=demo_sales().filter(pl.col("silhouette") == model).head(FEW_SALES - 1))

    assert few["verdict"].to_list() == [LOOK]
    assert "too few sales" in few["flags"][0]


def test_the_page_of_lots_says_about_what_a_weak_lot_is_worth() -> None:
    listed = demo_lots()
    dated = listed.lots.filter(~pl.col("flags").list.contains("era in doubt")).with_columns(
        flags=pl.lit([], dtype=pl.List(pl.String))
    )
    undated = listed.lots.filter(pl.col("flags").list.contains("era in doubt"))

    assert ">about €" in lots_page(replace(listed, lots=undated), business="Tidewrack Pairs")
    assert ">about €" not in lots_page(replace(listed, lots=dated), business="Tidewrack Pairs")


def test_a_row_of_the_stock_says_why_its_value_is_weak() -> None:
    sound, weak = (
        StockPair(found, "stock/a.html", demo_consignment(), "sheets/a.html", None)
        for found in (value(), value(own=2))
    )

    rows = stock_rows((sound, weak), on="index.html")
    assert [row.weak for row in rows] == ["", "too few sales"]
    assert rows[1].value.startswith("about €")


def test_the_plan_of_the_workshop_marks_weak_values_and_says_why() -> None:
    report = demo_report()
    assert report.plan is not None
    first = report.plan.chosen[0]
    weak = report.works.with_row_index().with_columns(
        weak=pl.when(pl.col("index") == first).then(pl.lit("too few sales"))
    )
    plan = restoration_sheet(replace(report, works=weak.drop("index"))).table("plan")
    name = report.works["label"][first]

    assert [text for text in plan.texts_of("pair") if text.endswith(" *")] == [f"{name} *"]
    assert plan.note.endswith(f"* Weak evidence for the value: too few sales ({name}).")


def test_a_plan_of_sound_values_has_no_mark() -> None:
    plan = restoration_sheet(demo_report()).table("plan")

    assert not any("*" in text for text in (*plan.texts_of("pair"), plan.note))


def test_a_plan_that_gains_less_than_its_error_is_not_said_to_pay() -> None:
    report = demo_report()
    assert report.plan is not None
    unsure = replace(report, plan=replace(report.plan, error=2 * report.plan.gain))

    assert "cannot tell whether the work pays" in state_plan(unsure)
    assert "cannot tell" not in state_plan(report)


def test_no_effect_of_restoring_is_shown_for_an_era_without_a_sale() -> None:
    assert eras_without_sales(one_era()[0].fit, scenario.market()) == (
        "first",
        "early reissue",
        "late reissue",
    )
    assert eras_without_sales(drawn.fitted().fit, scenario.market()) == ()


def test_many_pairs_at_once_are_weak_for_the_reasons_of_one_pair_alone() -> None:
    fitted, sales = drawn.fitted_plainly(drawn.sales(1500, 11)), drawn.sales(1500, 11)
    few = pl.concat(
        [
            sales.filter(pl.col("silhouette") != "Razorbill"),
            sales.filter(pl.col("silhouette") == "Razorbill").head(2),
        ]
    )
    pairs = [
        PAIR,
        replace(PAIR, silhouette="Razorbill"),
        replace(PAIR, silhouette="Great Auk", era=None),
        replace(PAIR, era="zeroth"),
        replace(PAIR, silhouette="Razorbill", foot_mm=400),
    ]
    factors = pair_factors(pairs, as_of=LAST_SALE).with_columns(
        pl.Series("era", [pair.era for pair in pairs])
    )
    found = predict(fitted.fit, pair_factors(pairs, as_of=LAST_SALE))

    at_once = weakness_column(weak_values(factors, fitted.fit, found["unseen"], found["extrapolated"], few))
    alone = [
        weakness_names(
            pair_cautions(
                pair,
                fitted,
                drawn.scenario_market(),
                unseen=row["unseen"],
                extrapolated=row["extrapolated"],
                own_sales=few.filter(pl.col("silhouette") == pair.silhouette).height,
            )
        )
        for pair, row in zip(pairs, found.iter_rows(named=True), strict=True)
    ]
    assert [names or "" for names in at_once] == alone
    assert len(set(alone)) == 4
