"""What the pricing page carries, and what it leaves out."""

import base64
from datetime import date

import numpy as np
import polars as pl
import pytest

from pipeline.errors import ReportError
from reports.pricing.fit import choose_carried, fit_document
from reports.pricing.page import pricing_document, pricing_page
from reports.pricing.sales import choose_sales
from sample_data import scenario
from tests.pricings import VALUED_ON, market_fitted, page_of, some_sales

WANTED = ("Gannet Hi", "Plover Lo", "Razorbill")


def test_the_page_is_lighter_than_3_mb() -> None:
    assert len(page_of().encode()) < 3_000_000


def test_of_each_silhouette_the_most_recent_sales_are_carried_until_the_page_is_full() -> None:
    sales = pl.DataFrame({"silhouette": ["a", "b", "a", "a", "b", "a", "c"], "sale": [1, 2, 3, 4, 5, 6, 7]})

    assert choose_sales(sales, most=5)["sale"].to_list() == [1, 2, 3, 5, 7]


def test_sales_that_fit_are_all_carried() -> None:
    sales = pl.DataFrame({"silhouette": ["a", "b", "a"]})

    assert choose_sales(sales, most=3).height == 3


def test_no_sale_is_needed_for_a_page() -> None:
    assert choose_sales(pl.DataFrame({"silhouette": []}, schema={"silhouette": pl.String})).height == 0


def test_the_covariance_that_is_carried_is_that_of_the_fit() -> None:
    fit = market_fitted("calibrated").fit
    carried = choose_carried(fit, WANTED)
    stored = np.frombuffer(base64.b64decode(fit_document(fit, carried)["covariance"]), dtype="<f4")
    last = carried.order[-1]
    own = carried.order[carried.first[-1] :]

    assert stored[-len(own) :] == pytest.approx(fit.covariance.dense()[last, own], rel=1e-6)


def test_effects_of_two_silhouettes_are_not_carried_together() -> None:
    fit = market_fitted("calibrated").fit
    carried = choose_carried(fit, WANTED)

    assert carried.entries.sum() < len(carried.order) * (len(carried.order) + 1) // 2


def test_silhouettes_for_which_there_is_no_room_are_left_out() -> None:
    fit = market_fitted("calibrated").fit
    room = int(choose_carried(fit, WANTED[:2]).entries.sum())

    assert choose_carried(fit, WANTED, most=room).silhouettes == WANTED[:2]


def test_a_fit_too_large_for_any_page_is_refused() -> None:
    with pytest.raises(ReportError, match=r"too many for a page\nvalue pairs with `pairband appraise`"):
        choose_carried(market_fitted("calibrated").fit, WANTED, most=100)


def test_the_page_says_what_it_does_not_carry() -> None:
    fitted, market = market_fitted("calibrated"), scenario.market()
    room = int(choose_carried(fitted.fit, ["Plover Lo", "Gannet Hi"]).entries.sum())
    html = pricing_page(fitted, market, some_sales(), as_of=VALUED_ON, most_entries=room, most_sales=30)

    assert "silhouettes with the fewest sales cannot be picked here" in html
    assert "among the 30 most recent" in html


def test_the_page_counts_no_sale_after_its_day() -> None:
    early = date(2020, 1, 1)
    document = pricing_document(market_fitted("calibrated"), scenario.market(), some_sales(), as_of=early)

    assert (
        sum(document["silhouette_sales"].values()) == some_sales().filter(pl.col("sold_on") <= early).height
    )


def test_a_silhouette_that_is_not_carried_cannot_be_picked() -> None:
    fitted, market = market_fitted("calibrated"), scenario.market()
    document = pricing_document(fitted, market, some_sales(), as_of=VALUED_ON, most_entries=60_000)

    assert document["not_carried"] > 0
    assert (
        set(document["choices"]["silhouettes"])
        == set(document["silhouette_sales"])
        == set(document["sales"]["of"])
    )


def test_a_stale_fit_is_cautioned_first() -> None:
    told = "The records have changed since the fit: run `pairband fit` again."
    document = pricing_document(
        market_fitted("calibrated"), scenario.market(), some_sales(), as_of=VALUED_ON, stale=told
    )

    assert document["cautions"]["stale"] == [told]


def _page(*, with_sales: bool) -> str:
    fitted = market_fitted("second stage")
    return pricing_page(fitted, scenario.market(), some_sales(), as_of=VALUED_ON, with_sales=with_sales)


def test_the_page_says_how_many_sales_with_exact_prices_and_days_it_carries() -> None:
    html = _page(with_sales=True)
    assert "1,200 past sales, each with its title, venue, day of sale, exact price" in html
    assert "<code>pairband pricing --without-sales</code>" in html


def test_a_page_without_sales_carries_no_title_price_or_record_of_any() -> None:
    html = _page(with_sales=False)
    for name in ("record_id", "title"):
        assert [text for text in some_sales()[name].drop_nulls().unique() if f'"{text}"' in html] == []


def test_a_page_without_sales_says_that_it_has_no_comparables() -> None:
    html = _page(with_sales=False)
    assert "The past sales, and with them the comparables" in html
    assert "can differ" not in html


def test_a_page_without_sales_still_knows_how_many_sales_each_silhouette_has() -> None:
    document = pricing_document(
        market_fitted("calibrated"), scenario.market(), some_sales(), as_of=VALUED_ON, with_sales=False
    )
    assert (
        document["silhouette_sales"]["Gannet Hi"]
        == some_sales().filter(pl.col("silhouette") == "Gannet Hi").height
    )
    assert document["sales"]["of"] == {}


def test_the_page_says_that_it_carries_the_rule_of_buying() -> None:
    assert "Your rule of buying (margin, confidence, costs)" in _page(with_sales=True)


def test_a_page_without_sales_carries_no_rule_of_buying() -> None:
    html = _page(with_sales=False)
    assert '"margin"' not in html
    assert 'name="ask"' not in html
