"""Size conversions against the formulas of the trade.

From memory: the English unit of a third of an inch, UK = 3 × foot length in inches - 23; the Paris point,
EU = 1.27 × (UK + 25) exactly; foot length in mm after ISO 9407. Tolerance .005, half of the last digit stated.
"""

import pytest

from pipeline.ingest.sizes import foot_mm


@pytest.mark.parametrize(("uk", "eu"), [(6, 39.370), (9, 43.180), (12, 46.990)])
def test_a_uk_size_and_its_paris_points_are_one_length(uk: float, eu: float) -> None:
    assert foot_mm("EU", eu) == pytest.approx(foot_mm("UK", uk), abs=0.005 * 25.4 / 3 / 1.27)


def test_a_uk_nine_is_271_mm_of_foot() -> None:
    assert foot_mm("UK", 9.0) == pytest.approx(270.93, abs=0.005)


def test_a_us_mens_size_is_one_above_the_uk_size() -> None:
    assert foot_mm("US men", 10.0) == foot_mm("UK", 9.0)


def test_a_japanese_size_is_foot_length_in_centimetres() -> None:
    assert foot_mm("JP", 27.5) == foot_mm("mm", 275.0) == 275.0
