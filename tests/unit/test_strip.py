"""The small strip of bands beside the words of a pair."""

import pytest

from pipeline.market.bands import Band
from reports.desk.strip import INSET, WIDTH, strip_of


def bands(median: float, spread: float = 1.2) -> list[Band]:
    return [
        Band(level, median / spread**wide, median * spread**wide)
        for level, wide in ((0.5, 1), (0.8, 2), (0.95, 3))
    ]


def test_a_band_that_moves_a_little_moves_on_an_axis_that_stands_still() -> None:
    before, after = strip_of(bands(500), 500, "EUR"), strip_of(bands(510), 510, "EUR")

    assert before is not None
    assert after is not None
    assert (before.low, before.high) == (after.low, after.high) == ("€200", "€1,000")
    assert before.bars[0].x < after.bars[0].x


def test_wider_bands_lie_under_narrower_ones() -> None:
    strip = strip_of(bands(500), None, "EUR")

    assert strip is not None
    assert [bar.level for bar in strip.bars] == [95, 80, 50]


@pytest.mark.parametrize("median", [0.03, 1, 7.7, 99, 100, 101, 5e6])
def test_every_band_lies_within_the_strip(median: float) -> None:
    strip = strip_of(bands(median, 1.9), median, "EUR")

    assert strip is not None
    assert all(bar.x >= INSET and bar.x + bar.width <= WIDTH - INSET + 0.1 for bar in strip.bars)


def test_without_bands_there_is_no_strip() -> None:
    assert strip_of([], None, "EUR") is None
