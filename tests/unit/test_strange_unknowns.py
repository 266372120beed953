"""An attribute that is not known and does to a price what no known value does is reported with its sales."""

from dataclasses import replace
from functools import cache

import polars as pl
import pytest

from pipeline.answers.fit.run import FitSummary
from pipeline.answers.fit.tables import fit_sheet
from pipeline.hedonic.second_stage import SecondStage
from pipeline.market.strange_unknowns import StrangeUnknown, strange_unknowns
from tests import drawn

INVOICE = "Repair invoice"


def with_unknown_sizes(price_factor: float, count: int = 30) -> pl.DataFrame:
    """Return drawn sales of which the first so many have no size, at so many times their price."""
    sales = drawn.sales(1200, 11).sort("record_id")
    junk = pl.int_range(pl.len()) < count
    return sales.with_columns(
        size_mm=pl.when(junk).then(None).otherwise("size_mm"),
        title=pl.when(junk).then(pl.lit(INVOICE)).otherwise("title"),
        log_price=pl.when(junk).then(pl.col("log_price") + pl.lit(price_factor).log()).otherwise("log_price"),
    ).with_columns(price_paid=pl.col("log_price").exp())


@cache
def found(price_factor: float) -> tuple[StrangeUnknown, ...]:
    sales = with_unknown_sizes(price_factor)
    return strange_unknowns(drawn.fitted_plainly(sales), [sales[:7], sales[7:]])


def test_invoices_that_make_an_unknown_size_cheap_are_reported() -> None:
    assert [(one.attribute, one.sales) for one in found(0.12)] == [("size", 30)]


def test_the_effect_of_the_unknown_level_is_that_of_its_sales() -> None:
    assert 0.08 < found(0.12)[0].factor < 0.18


def test_the_titles_to_look_at_are_those_of_the_unknown_level() -> None:
    assert set(found(0.12)[0].titles) == {INVOICE}


def test_an_unknown_size_at_the_usual_price_is_not_reported() -> None:
    assert found(1.0) == ()


def test_an_unknown_level_that_is_a_little_cheaper_is_not_reported() -> None:
    assert found(0.85) == ()


def test_sales_without_an_unknown_level_have_nothing_to_report() -> None:
    sales = drawn.sales(1200, 11)
    reported = strange_unknowns(drawn.fitted_plainly(sales), [sales])
    assert "size" not in [one.attribute for one in reported]


def test_no_sale_is_read_where_nothing_is_strange() -> None:
    unread = (pytest.fail("a sale was read") for _ in range(1))
    assert strange_unknowns(drawn.fitted_plainly(drawn.sales(1200, 11)), unread) == ()


def summary(sales: int) -> FitSummary:
    return FitSummary(
        fit_id="f",
        currency="EUR",
        sales=sales,
        excluded=0,
        first_sale=drawn.fitted().first_sale,
        last_sale=drawn.fitted().last_sale,
        coefficients=10,
        effective=8.0,
        scatter_percent=20.0,
        converged=True,
        steps=3,
        left_out=(),
        grades_alike=(),
        doubted_sales=0,
        doubted=(),
        strange_unknowns=found(0.12),
    )


def test_the_fit_says_what_to_look_at() -> None:
    assert (
        f"look at them first: are they pairs, and was all of them read? {INVOICE};"
        in fit_sheet(summary(1200)).warnings[0]
    )


def test_a_fit_of_more_sales_than_are_priced_one_by_one_says_that_bands_were_tried_on_a_sample() -> None:
    said = "The bands were tried on a sample of 50,000 sales, the same ones each time."
    assert [said in fit_sheet(summary(sales)).sentences for sales in (50_000, 50_001)] == [False, True]


@pytest.mark.parametrize("used", [True, False])
def test_the_fit_says_what_the_second_stage_gains_only_where_it_counts(used: bool) -> None:
    fitted = replace(summary(1200), second_stage=SecondStage(used, 0.57, 0.0042, 0.0011, 0.05))

    assert any("is counted for 57 %" in said for said in fit_sheet(fitted).sentences) is used
