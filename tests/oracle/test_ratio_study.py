"""The ratio study against assesspy 2.0.2 on its `ccao_sample` (979 sales), and against figures worked by hand.

Tolerance 1e-9: the same formulas in double precision. IAAO, Standard on Ratio Studies (2013).
"""

import numpy as np
import pytest
from assesspy import ccao_sample, prb_ci

from pipeline.hedonic.ratio_study import RatioStudy, ratio_study

CLOSE = 1e-9


@pytest.fixture(scope="module")
def counted() -> RatioStudy:
    """Return the study of the reference library's sample."""
    sample = ccao_sample()
    return ratio_study(sample["estimate"], sample["sale_price"], seed=1)


def test_dispersion_differential_and_bias_are_the_references(counted: RatioStudy) -> None:
    assert counted.sales == 979
    assert counted.cod.value == pytest.approx(17.8145690120, abs=CLOSE)
    assert counted.prd.value == pytest.approx(1.0484192615, abs=CLOSE)
    assert counted.prb.value == pytest.approx(0.0024757874, abs=CLOSE)


def test_the_interval_of_the_bias_is_the_references(counted: RatioStudy) -> None:
    sample = ccao_sample()
    low, high = prb_ci(sample["estimate"], sample["sale_price"])

    assert (counted.prb.low, counted.prb.high) == pytest.approx((low, high), abs=CLOSE)
    assert (counted.prb.low, counted.prb.high) == pytest.approx((-0.0140438, 0.0189954), abs=1e-7)


def test_five_sales_worked_by_hand() -> None:
    study = ratio_study([90, 100, 110, 120, 95], [100, 100, 100, 150, 100], seed=1)

    assert study.median_ratio.value == pytest.approx(0.95, abs=CLOSE)
    assert study.cod.value == pytest.approx(8.4210526316, abs=CLOSE)
    assert study.prd.value == pytest.approx(1.0145631068, abs=CLOSE)
    assert study.prb.value == pytest.approx(-0.3147369102, abs=CLOSE)


def test_the_interval_of_the_median_lies_on_the_order_statistics_of_the_sign_test() -> None:
    """Of 25 values, the 8th and the 18th hold the median with 95.7 % (binomial table, from memory)."""
    found = ratio_study(np.arange(1.0, 26.0), np.ones(25), seed=1).median_ratio

    assert (found.low, found.value, found.high) == (8.0, 13.0, 18.0)
