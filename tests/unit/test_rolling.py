"""Rolling origin: each sale is priced from what was known before it."""

import numpy as np
import polars as pl
import pytest

from pipeline.hedonic import rolling
from pipeline.hedonic.fit import FitSettings
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rolling import choose_origins, roll
from pipeline.hedonic.specification import Specification, Term

SPEC = Specification("log_price", (Term("kind", "pooled", ("kind",)), Term("month", "walk", ("month",))))
SETTINGS = FitSettings(
    lambda sales: SPEC, Robust(degrees_of_freedom=5.0), (Term("kind", "pooled", ("kind",)),), "month"
)


def sold(months: int = 36, each: int = 10) -> pl.DataFrame:
    draws = np.random.default_rng(1)
    count = months * each
    kind = draws.integers(0, 4, count)
    return pl.DataFrame(
        {
            "kind": [f"k{number}" for number in kind],
            "month": np.repeat(np.arange(100, 100 + months), each),
            "log_price": 4 + 0.2 * kind + draws.normal(0, 0.1, count),
        }
    )


def test_origins_lie_a_quarter_apart_up_to_the_last_month() -> None:
    assert choose_origins(sold()["month"], step=3, most=4, fewest=40) == (124, 127, 130, 133)


def test_an_origin_has_sales_enough_before_it() -> None:
    assert choose_origins(sold()["month"], step=3, most=99, fewest=100)[0] == 112


def test_no_sale_has_no_origin() -> None:
    assert choose_origins(sold().clear()["month"], step=3, most=4, fewest=40) == ()


def test_a_quarter_without_sales_is_no_origin() -> None:
    gap = sold().filter(~pl.col("month").is_between(127, 129))

    assert choose_origins(gap["month"], step=3, most=4, fewest=40) == (121, 124, 130, 133)


def test_every_later_sale_is_priced_once() -> None:
    rolled = roll(FrameSource(sold()), SETTINGS, (124, 127, 130))

    assert rolled.sales["row"].to_list() == list(range(240, 360))
    assert (rolled.sales["origin"] <= rolled.sales["period"]).all()


def test_what_sells_later_changes_no_earlier_price() -> None:
    frame = sold()
    higher = frame.with_columns(log_price=pl.col("log_price") + (pl.col("month") >= 127))
    plain, changed = (roll(FrameSource(sales), SETTINGS, (124, 127)).sales for sales in (frame, higher))

    first = pl.col("origin") == 124
    assert plain.filter(first)["log_price"].equals(changed.filter(first)["log_price"])


def test_an_origin_that_cannot_be_fitted_is_reported() -> None:
    frame = sold().with_columns(log_price=pl.when(pl.col("month") < 103).then(4.0).otherwise("log_price"))

    rolled = roll(FrameSource(frame), SETTINGS, (103, 127))

    assert len(rolled.failed) == 1
    assert "prices are equal" in rolled.failed[0]
    assert rolled.sales["origin"].unique().to_list() == [127]


def test_progress_is_reported_after_each_origin() -> None:
    told: list[tuple[int, int]] = []

    roll(FrameSource(sold()), SETTINGS, (124, 130), on_progress=lambda done, of: told.append((done, of)))

    assert told == [(1, 2), (2, 2)]


def test_later_sales_of_a_sample_are_priced_by_fits_to_all_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    frame = sold().with_row_index("at")
    whole = roll(FrameSource(frame), SETTINGS, (124, 127, 130))
    monkeypatch.setattr(rolling, "MOST_SINGLE", 200)

    sampled = roll(FrameSource(frame), SETTINGS, (124, 127, 130))

    assert sampled.singles.height == 200
    prices = dict(zip(whole.singles["at"][whole.sales["row"]], whole.sales["log_price"], strict=True))
    again = dict(zip(sampled.singles["at"][sampled.sales["row"]], sampled.sales["log_price"], strict=True))
    assert 0 < len(again) < len(prices)
    assert again == {at: prices[at] for at in again}
