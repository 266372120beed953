"""Prices outside what was sold: unseen levels, months after the last, sizes between and beyond the curve."""

import subprocess
import sys
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipeline.errors import FitError
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.predict import design_rows, differences, predict
from pipeline.hedonic.rows import new_level_variance
from pipeline.hedonic.specification import Specification, Term

MODEL = Specification(
    "log_price",
    (
        Term("silhouette", "pooled", ("silhouette",)),
        Term("box", "level", ("box",), "none"),
        Term("size", "curve", ("foot_mm",)),
        Term("month", "walk", ("month",)),
    ),
)


@cache
def sales() -> pl.DataFrame:
    random = np.random.default_rng(11)
    foot_mm = 250 + 5 * random.integers(0, 9, 400)
    month = random.choice([0, 1, 2, 3, 4, 7, 8, 9, 10, 11], 400)
    silhouette = random.integers(0, 8, 400)
    log_price = 5 + 0.3 * np.sin(foot_mm / 9) + 0.03 * month + 0.1 * silhouette + random.normal(0, 0.1, 400)
    boxes = np.array(["none", "original", ""])[random.integers(0, 3, 400)]
    return pl.DataFrame(
        {
            "silhouette": [f"s{number}" for number in silhouette],
            "box": boxes,
            "foot_mm": foot_mm,
            "month": month,
            "log_price": log_price,
        }
    )


@cache
def fitted() -> Fit:
    return fit(sales(), MODEL)


def pair(**changes: object) -> pl.DataFrame:
    known: dict[str, object] = {"silhouette": "s1", "box": "none", "foot_mm": 270, "month": 11}
    return pl.DataFrame({name: [value] for name, value in {**known, **changes}.items()})


def price(**changes: object) -> float:
    return float(predict(fitted(), pair(**changes))["log_price"].item())


def variance(**changes: object) -> float:
    return float(predict(fitted(), pair(**changes))["estimation_variance"].item())


def test_an_unseen_silhouette_is_priced_at_the_pool_with_the_variance_of_a_new_one() -> None:
    found = predict(fitted(), pair(silhouette="never sold"))
    between = fitted().sigma2 / fitted().lambdas["silhouette"]
    prior = new_level_variance(between, fitted().factor("silhouette").size, 0.05)
    without = design_rows(fitted(), pair(silhouette="never sold")).toarray()[0]
    known = float(without @ fitted().covariance.dense() @ without)
    assert found["unseen"].to_list() == [["silhouette"]]
    assert found["estimation_variance"].item() == pytest.approx(known + prior, rel=1e-12)


def test_an_unseen_box_has_no_effect_and_the_spread_of_the_boxes() -> None:
    found = predict(fitted(), pair(box="crate"))
    effects = fitted().effects.filter(pl.col("term") == "box")
    spread = np.average(effects["effect"].to_numpy() ** 2, weights=effects["rows"].to_numpy())
    assert found["unseen"].to_list() == [["box"]]
    assert found["log_price"].item() == pytest.approx(price(box="none"))
    assert found["estimation_variance"].item() == pytest.approx(variance(box="none") + spread)


def test_a_null_is_a_level_of_its_own_and_an_empty_text_another() -> None:
    found = predict(fitted(), pl.concat([pair(box=None).cast({"box": pl.String}), pair(box="")]))
    assert found["unseen"].to_list() == [["box"], []]


def test_a_month_after_the_last_keeps_the_level_and_gains_a_step_a_month() -> None:
    step = fitted().walks[0].step_variance
    assert fitted().walks[0].last == 11
    assert price(month=14) == pytest.approx(price(month=11))
    assert variance(month=14) == pytest.approx(variance(month=11) + 3 * step)


def test_a_month_before_the_first_keeps_the_first_level() -> None:
    step = fitted().walks[0].step_variance
    assert price(month=-2) == pytest.approx(price(month=0))
    assert variance(month=-2) == pytest.approx(variance(month=0) + 2 * step)


def test_a_month_without_sales_lies_between_its_neighbours() -> None:
    assert price(month=5) == pytest.approx(price(month=4) * 2 / 3 + price(month=7) / 3)
    assert predict(fitted(), pair(month=5))["extrapolated"].to_list() == [[]]


def test_a_walk_over_a_gap_has_the_variance_of_the_walk_with_the_empty_months_in_it() -> None:
    """The months 5 and 6 are added by sales of almost no weight, which fit them as levels."""
    ghosts = sales()[:2].with_columns(pl.Series("month", [5, 6]), pl.lit(1e-9).alias("weight"))
    weighted = pl.concat(
        [sales().with_columns(pl.lit(1.0).alias("weight")), ghosts.select(*sales().columns, "weight")]
    )
    whole = fit(weighted, Specification("log_price", MODEL.terms, "weight"))
    there = predict(whole, pair(month=5))
    here = predict(fitted(), pair(month=5))
    assert here["log_price"].item() == pytest.approx(there["log_price"].item(), abs=2e-4)
    assert here["estimation_variance"].item() == pytest.approx(there["estimation_variance"].item(), rel=0.02)


def test_a_size_between_two_levels_lies_on_their_line_and_is_less_certain_than_the_line() -> None:
    rows = design_rows(fitted(), pair(foot_mm=272.5)).toarray()[0]
    on_the_line = float(rows @ fitted().covariance.dense() @ rows)
    assert price(foot_mm=272.5) == pytest.approx((price(foot_mm=270) + price(foot_mm=275)) / 2)
    assert variance(foot_mm=272.5) > on_the_line


def test_a_size_beyond_the_last_goes_on_straight_and_grows_uncertain() -> None:
    found = predict(fitted(), pair(foot_mm=300))
    slope = (price(foot_mm=290) - price(foot_mm=285)) / 5
    assert found["extrapolated"].to_list() == [["size"]]
    assert found["log_price"].item() == pytest.approx(price(foot_mm=290) + 10 * slope)
    assert variance(foot_mm=310) > variance(foot_mm=300) > variance(foot_mm=290)


def test_whole_floats_and_integers_are_one_level() -> None:
    assert price(foot_mm=270.0, month=11.0) == price(foot_mm=270, month=11)


def test_a_step_between_equal_levels_is_zero_and_certain() -> None:
    step = differences(fitted(), pair(silhouette="odd"), pair(silhouette="odd"))
    assert step["effect"].item() == 0
    assert step["error"].item() == pytest.approx(0, abs=1e-9)


def test_the_error_of_a_step_is_that_of_its_coefficient() -> None:
    step = differences(fitted(), pair(), pair(box="original"))
    known = fitted().effects.filter((pl.col("term") == "box") & (pl.col("level") == "original"))
    assert step["effect"].item() == pytest.approx(known["effect"].item())
    assert step["error"].item() == pytest.approx(known["error"].item())


def test_two_pairs_of_one_unseen_silhouette_differ_without_its_prior() -> None:
    found = differences(fitted(), pair(silhouette="odd"), pair(silhouette="odd", month=0))
    known = differences(fitted(), pair(silhouette="s1"), pair(silhouette="s1", month=0))
    assert found["error"].item() == pytest.approx(known["error"].item())


def test_unequal_counts_of_records_cannot_be_compared() -> None:
    with pytest.raises(FitError, match="2 records cannot be compared with 1 one by one"):
        differences(fitted(), pl.concat([pair(), pair()]), pair())


def test_no_records_give_no_prices() -> None:
    assert predict(fitted(), pair().clear()).height == 0


def test_predicting_loads_neither_pandas_nor_statsmodels() -> None:
    code = (
        "import sys, pipeline.hedonic.document, pipeline.hedonic.predict, pipeline.hedonic.bands;"
        "print([name for name in ('pandas', 'statsmodels', 'scipy.stats', 'scipy.linalg') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
