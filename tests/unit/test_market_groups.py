"""Whether eras and families moved differently from the market, on markets whose truth is known."""

from datetime import date
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.answers.market_view.groups import Split, split_market
from pipeline.answers.market_view.index import Change
from pipeline.config import Market
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.specification import Specification, Term
from tests.drawn import scenario_market

MODEL = Specification(
    "log_price",
    (
        Term("era", "level", ("era",)),
        Term("silhouette", "pooled", ("silhouette",)),
        Term("month", "walk", ("month",)),
    ),
)
YEAR = Change(12, date(2023, 1, 1), date(2024, 1, 1), 1.06, 1.03, 1.09)
ERAS = ("first", "second", "early reissue", "late reissue")


@cache
def drawn(first_drifts: float) -> pl.DataFrame:
    """Return 1,600 sales of four years in which first-run pairs rise by so much a month more than the others."""
    random = np.random.default_rng(8)
    month = random.integers(0, 48, 1600)
    era = random.integers(0, 4, 1600)
    silhouette = random.choice(["Gannet Hi", "Plover Lo", "Gannet Lo"], 1600)
    log_price = 5 + 0.005 * month + np.where(era == 0, first_drifts * month, 0) + random.normal(0, 0.15, 1600)
    return pl.DataFrame(
        {
            "era": np.array(ERAS)[era],
            "silhouette": silhouette,
            "month": (12 * 2020 + month).astype(np.int32),
            "log_price": log_price,
        }
    )


@cache
def by_era(first_drifts: float) -> Split:
    return split_market(whole(drawn(first_drifts)), scenario_market(), drawn(first_drifts), year=YEAR)[0]


def whole(sales: pl.DataFrame) -> Fit:
    return fit(sales, MODEL)


def without_families() -> Market:
    market = scenario_market()
    plain = tuple(one.model_copy(update={"family": ""}) for one in market.silhouettes)
    return market.model_copy(update={"silhouettes": plain})


def test_an_era_that_moved_differently_is_named() -> None:
    assert [group.name for group in by_era(0.012).different] == ["first"]


def test_how_much_further_an_era_went_is_told_against_the_others() -> None:
    first, second = by_era(0.012).groups[:2]
    assert first.difference.factor / second.difference.factor == pytest.approx(np.exp(0.012 * 45), rel=0.12)


def test_eras_that_move_together_are_said_to() -> None:
    assert by_era(0.0).different == ()
    assert by_era(0.0).words.startswith("The eras moved with the market")


def test_the_years_of_the_eras_make_up_the_year_of_the_whole_market() -> None:
    groups = by_era(0.012).groups
    sales = np.array([sum(point.sales for point in group.points[-4:]) for group in groups])
    factors = np.array([group.year.factor for group in groups if group.year])
    assert np.exp(np.average(np.log(factors), weights=sales)) == pytest.approx(YEAR.factor, rel=1e-3)


def test_the_year_of_an_era_differs_as_its_own_index_does() -> None:
    first, second = by_era(0.012).groups[:2]
    assert first.year
    assert second.year
    apart = [ratio[-1] / ratio[-5] for ratio in (first.ratio_by_quarter, second.ratio_by_quarter)]
    assert first.year.factor / second.year.factor == pytest.approx(apart[0] / apart[1])


def test_the_band_of_an_eras_year_holds_that_of_the_market() -> None:
    year = by_era(0.012).groups[0].year
    assert year
    assert year.high / year.factor >= YEAR.high / YEAR.factor


def test_eras_of_a_market_whose_year_is_not_known_have_none_either() -> None:
    sales = drawn(0.0)
    groups = split_market(whole(sales), scenario_market(), sales, year=None)[0].groups
    assert [group.year for group in groups] == [None] * len(ERAS)


def test_the_index_of_an_era_is_the_markets_times_its_own_ratio() -> None:
    first, second = by_era(0.012).groups[:2]
    ratio = [point.index / own for point, own in zip(first.points, first.ratio_by_quarter, strict=True)]
    other = [point.index / own for point, own in zip(second.points, second.ratio_by_quarter, strict=True)]
    assert ratio == pytest.approx(other)


def test_the_sales_of_the_quarters_add_up_to_those_of_the_era() -> None:
    group = by_era(0.0).groups[0]
    assert sum(point.sales for point in group.points) == group.sales


def test_a_market_file_without_families_gives_no_index_by_family() -> None:
    sales = drawn(0.0)
    split = split_market(whole(sales), without_families(), sales, year=YEAR)[1]
    assert split.groups == ()
    assert split.words.endswith("the market file names no silhouette families.")


def test_one_era_alone_gives_no_index_by_era() -> None:
    sales = drawn(0.0).filter(pl.col("era") == "second")
    split = split_market(whole(sales), scenario_market(), sales, year=YEAR)[0]
    assert split.words == ("There is no index by era: only one of the 4 eras has 60 sales or more.")


def test_two_quarters_are_too_few_for_an_index_by_era() -> None:
    sales = drawn(0.0).with_columns(pl.col("month") % 6 + 12 * 2020)
    assert "too few quarters" in split_market(whole(sales), scenario_market(), sales, year=YEAR)[0].words


def test_records_that_do_not_tell_months_apart_carry_no_index_by_era() -> None:
    sales = drawn(0.0)
    still = fit(sales, Specification("log_price", MODEL.terms[:2]))
    split = split_market(still, scenario_market(), sales, year=YEAR)[0]
    assert split.words == "There is no index by era: the sales are too few to compare months."
