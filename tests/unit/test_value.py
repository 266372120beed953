"""The appraisal: what must hold between its parts, whatever the market."""

from dataclasses import replace
from datetime import date
from math import exp, prod

import polars as pl
import pytest

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.cautions import date_cautions
from pipeline.errors import FitError
from pipeline.hedonic.trend import SHAPES, find_trend
from pipeline.market.fitted_market import from_stored, to_stored
from pipeline.market.pair import Pair
from tests import drawn

TODAY = date(2026, 10, 1)
PAIR = Pair(
    silhouette="Gannet Hi",
    colourway="Buoy Red",
    era="first",
    foot_mm=271,
    size_label="UK 9",
    size_system="UK",
    grade=8.0,
    box="original",
    tags="none",
    overlay="leather",
    parts=(),
    defects=("yellowing",),
    treatments=("reglue", "deep clean"),
    venue="Lantern Dock",
)


def value(pair: Pair, as_of: date = TODAY) -> Appraisal:
    sales = drawn.sales(1500, 11).filter(pl.col("silhouette") == pair.silhouette)
    return appraise(pair, drawn.fitted(), drawn.scenario_market(), sales, as_of=as_of)


def width(appraisal: Appraisal, level: float = 0.8) -> float:
    band = next(band for band in appraisal.bands if band.level == level)
    return band.high / band.low


def test_the_steps_lead_from_the_start_to_the_median() -> None:
    appraisal = value(PAIR)

    assert appraisal.start_price * prod(step.factor for step in appraisal.steps) == pytest.approx(
        appraisal.median
    )
    assert appraisal.steps[-1].price_after == pytest.approx(appraisal.median)


def test_each_defect_and_treatment_has_a_step_of_its_own() -> None:
    steps = [(step.attribute, step.value) for step in value(PAIR).steps]

    assert ("defect", "yellowing") in steps
    assert ("treatment", "reglue") in steps
    assert ("treatment", "deep clean") in steps


def test_a_comparable_is_adjusted_line_by_line() -> None:
    for sale in value(PAIR).comparables:
        assert sale.price_paid * prod(line.factor for line in sale.adjustments) == pytest.approx(
            sale.adjusted_price
        )


def test_an_adjusted_comparable_differs_from_the_median_by_its_residual() -> None:
    appraisal = value(PAIR)

    for sale in appraisal.comparables:
        assert sale.adjusted_price == pytest.approx(appraisal.median * exp(sale.residual))


def test_the_nearest_sale_comes_first() -> None:
    distances = [sale.distance for sale in value(PAIR).comparables]

    assert distances == sorted(distances)


@pytest.mark.parametrize(
    ("day", "told"),
    [
        (date(2026, 10, 1), "Valued 1 day after the last sale (30 Sept 2026)"),
        (date(2026, 10, 29), "Valued 29 days after the last sale"),
        (date(2026, 11, 29), "Valued 60 days after the last sale"),
        (date(2026, 11, 30), "Valued 2 months after the last sale"),
        (date(2027, 9, 29), "Valued 11 months after the last sale"),
        (date(2027, 9, 30), "Valued 12 months after the last sale"),
    ],
)
def test_the_time_since_the_last_sale_is_counted_truly(day: date, told: str) -> None:
    fitted = replace(drawn.fitted(), last_sale=date(2026, 9, 30))

    assert date_cautions(fitted, day)[0].words.startswith(told)


def with_trend(pair: Pair, as_of: date) -> Appraisal:
    """Return what a pair is worth in a market whose trend counts."""
    fitted = drawn.fitted()
    trend = find_trend(fitted.fit, "month", SHAPES[0])
    assert trend is not None
    sales = drawn.sales(1500, 11).filter(pl.col("silhouette") == pair.silhouette)
    moving = replace(fitted, fit=replace(fitted.fit, trend=trend))
    return appraise(pair, moving, drawn.scenario_market(), sales, as_of=as_of)


def test_the_market_has_a_step_of_its_own_in_the_waterfall_where_the_trend_counts() -> None:
    plain, moved = value(PAIR), with_trend(PAIR, TODAY)
    [step] = [step for step in moved.steps if step.attribute == "market"]

    assert not any(step.attribute == "market" and step.factor != 1 for step in plain.steps)
    assert moved.median / plain.median == pytest.approx(step.factor)
    assert step.factor != pytest.approx(1, abs=0.001)


def test_where_the_trend_counts_it_is_said_that_prices_go_on_with_it() -> None:
    after = next(
        caution
        for caution in with_trend(PAIR, date(2026, 10, 29)).cautions
        if "after the last sale" in caution
    )

    assert "prices go on from that month by the market's trend" in after


def test_a_comparable_of_the_last_months_is_adjusted_by_the_trend() -> None:
    """The lines make of what it fetched the value of the pair, but for its residual."""
    appraisal = with_trend(PAIR, date(2026, 12, 1))

    for sale in appraisal.comparables:
        assert sale.adjusted_price == pytest.approx(appraisal.median * exp(sale.residual))


def test_no_comparable_was_sold_after_the_day_of_valuation() -> None:
    appraisal = value(PAIR, as_of=date(2022, 1, 1))

    assert appraisal.comparables
    assert all(sale.sold_on <= date(2022, 1, 1) for sale in appraisal.comparables)


def test_a_silhouette_first_sold_after_the_day_of_valuation_is_said() -> None:
    cautions = value(PAIR, as_of=date(2016, 1, 1)).cautions

    assert any("its effect rests on later sales" in caution for caution in cautions)


def test_a_wider_level_makes_a_wider_band_about_the_median() -> None:
    appraisal = value(PAIR)
    half, eighty, ninety_five = appraisal.bands

    assert (
        ninety_five.low
        < eighty.low
        < half.low
        < appraisal.median
        < half.high
        < eighty.high
        < ninety_five.high
    )


def test_a_silhouette_without_sales_is_out_of_support_and_its_band_wide() -> None:
    unseen = value(replace(PAIR, silhouette="Great Auk"))

    assert not unseen.in_support
    assert not unseen.comparables
    assert "No sale of the silhouette 'Great Auk'" in unseen.cautions[0]
    assert width(unseen) > 1.3 * width(value(PAIR))


def test_a_colourway_without_sales_widens_the_band_and_is_said() -> None:
    unseen = value(replace(PAIR, colourway="Puce"))

    assert width(unseen) > width(value(PAIR))
    assert any("'Puce'" in caution for caution in unseen.cautions)


def test_what_is_not_known_widens_the_band() -> None:
    assert width(value(replace(PAIR, grade=None))) > width(value(PAIR))


def test_what_is_not_known_is_named() -> None:
    cautions = value(replace(PAIR, grade=None, box=None)).cautions

    assert any(caution.startswith("Not known: grade, box.") for caution in cautions)


def test_attributes_that_no_sale_shares_are_named_in_one_sentence() -> None:
    odd = replace(PAIR, tags="Blorb", box="Crate", parts=("fringe",))
    unshared = [
        caution for caution in value(odd).cautions if caution.startswith("No sale in the records shares")
    ]

    assert len(unshared) == 1
    assert "its box, tags, part:" in unshared[0]


def test_a_later_day_has_the_same_median_and_a_wider_band() -> None:
    now, later = value(PAIR), value(PAIR, as_of=date(2028, 10, 1))

    assert later.median == pytest.approx(now.median)
    assert width(later) > width(now)


def test_no_venue_in_particular_widens_the_band() -> None:
    assert width(value(replace(PAIR, venue=None))) > width(value(PAIR))


def test_the_buyer_of_a_restored_pair_is_to_be_told() -> None:
    assert any("what was restored" in caution for caution in value(PAIR).cautions)
    assert not any("what was restored" in caution for caution in value(replace(PAIR, treatments=())).cautions)


def test_a_stored_market_values_to_the_last_digit_as_it_did() -> None:
    stored = from_stored(*to_stored(drawn.fitted()))
    sales = drawn.sales(1500, 11).filter(pl.col("silhouette") == PAIR.silhouette)

    assert appraise(PAIR, stored, drawn.scenario_market(), sales, as_of=TODAY) == value(PAIR)


def test_seven_sales_carry_no_market() -> None:
    with pytest.raises(FitError, match="holds 7 sales that can be priced; a fit needs 8"):
        drawn.fitted_to(drawn.sales(1500, 11).head(7))


def test_a_market_of_one_silhouette_and_few_sales_is_still_valued() -> None:
    sales = drawn.sales(1500, 11)
    few = sales.filter(pl.col("silhouette") == "Gannet Hi").sort("sold_on").tail(9)

    appraisal = appraise(PAIR, drawn.fitted_to(few), drawn.scenario_market(), few, as_of=TODAY)

    assert appraisal.bands[0].low < appraisal.median < appraisal.bands[0].high


def test_a_day_before_the_records_is_said_and_has_no_comparables() -> None:
    early = value(PAIR, as_of=date(1990, 1, 1))

    assert early.in_support
    assert not early.comparables
    assert any(caution.startswith("Valued before the first sale") for caution in early.cautions)
    assert width(early) > width(value(PAIR))
