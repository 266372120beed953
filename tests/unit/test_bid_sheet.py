"""The bid sheet: one line a lot in order of closing, what there is no bid to make on below."""

import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from pipeline.answers.lots.answer import BID, CLOSED, LOOK, PASS, LotList
from pipeline.ingest.dates import read_times
from pipeline.ingest.lots import read_lots
from pipeline.shipped import shipped
from reports.lots.bid_sheet import bid_sheet_page
from sample_data import scenario
from tests.appraisals import HOSTILE
from tests.upcoming import VALUED_ON, demo_lots

BUSINESS = "Tidewrack Pairs"


def listed(*lots: dict[str, object]) -> LotList:
    """Return a list of lots of the demo, each changed in what is given."""
    first = demo_lots().lots.filter(verdict=BID).head(1)
    rows = [first.with_columns(pl.lit(value).alias(name) for name, value in lot.items()) for lot in lots]
    return replace(demo_lots(), lots=pl.concat(rows, how="vertical_relaxed") if rows else first.clear())


def lot_numbers(page: str) -> list[str]:
    """Return the numbers of the lots to bid on, from the top."""
    return re.findall(r'<td><bdi>(\S+)</bdi></td><th scope="row">', page)


def test_lots_stand_in_order_of_closing() -> None:
    day = date(2026, 10, 10)
    found = listed(
        {"lot_ref": "3", "closes_on": day, "closes_at": "15:30"},
        {"lot_ref": "7", "closes_on": date(2026, 10, 9), "closes_at": "18:00"},
        {"lot_ref": "12", "closes_on": day, "closes_at": "09:15"},
    )

    assert lot_numbers(bid_sheet_page(found, business=BUSINESS)) == ["7", "12", "3"]


def test_without_times_lots_stand_in_order_of_their_numbers() -> None:
    found = listed(*({"lot_ref": number, "closes_at": None} for number in ("100", "20", "3")))
    page = bid_sheet_page(found, business=BUSINESS)

    assert lot_numbers(page) == ["3", "20", "100"]
    assert "Closes</th>" not in page


def test_every_open_lot_stands_on_the_sheet_once() -> None:
    page = bid_sheet_page(demo_lots(), business=BUSINESS)
    lots = demo_lots().lots

    to_bid_on = lots.filter(pl.col("verdict").is_in([BID, LOOK])).height
    assert len(lot_numbers(page)) == to_bid_on
    assert page.count("<li>") == lots.height - to_bid_on


def test_a_lot_whose_bids_have_passed_the_maximum_stands_below_with_the_reason() -> None:
    page = bid_sheet_page(listed({"verdict": PASS}), business=BUSINESS)

    assert lot_numbers(page) == []
    assert "the bids have passed your maximum of €" in page


def test_a_lot_without_a_maximum_stands_below_with_the_reason() -> None:
    page = bid_sheet_page(
        listed({"verdict": PASS, "walk_away_bid": 0.0, "walk_away_landed": None}), business=BUSINESS
    )

    assert "no bid leaves your margin" in page


def test_closed_lots_are_left_off_and_counted() -> None:
    page = bid_sheet_page(listed({"verdict": CLOSED}, {"lot_ref": "5"}), business=BUSINESS)

    assert lot_numbers(page) == ["5"]
    assert "1 lot closed before that day." in page


def test_an_empty_list_is_a_sheet_too() -> None:
    assert "There is no lot to bid on." in bid_sheet_page(listed(), business=BUSINESS)


def test_a_hostile_lot_number_stays_text() -> None:
    assert "<img src=x" not in bid_sheet_page(listed({"lot_ref": HOSTILE}), business=HOSTILE)


@pytest.mark.parametrize(
    ("cell", "time"),
    [
        ("2026-10-10 14:30", "14:30"),
        ("2026-10-10T09:05:00Z", "09:05"),
        ("10.10.2026 19:00 Uhr", "19:00"),
        ("10 Oct 2026, 7:15 pm", "19:15"),
        ("10 Oct 2026 12:05 am", "00:05"),
        ("2026-10-10", None),
        ("2026-10-10 00:00:00", None),
        ("2026-10-10 25:00", None),
        ("12:30", None),
        (None, None),
    ],
)
def test_the_time_beside_a_day_is_read(cell: str | None, time: str | None) -> None:
    assert read_times(pl.Series([cell], dtype=pl.String)).to_list() == [time]


def test_the_time_may_stand_in_a_column_of_its_own(tmp_path: Path) -> None:
    lines = (
        (shipped("sample_data") / "exports" / "upcoming_lots.csv").read_text(encoding="utf-8").splitlines()
    )
    path = tmp_path / "upcoming_lots.csv"
    path.write_text("\n".join([f"{lines[0]},time", f"{lines[1]},14:20"]), encoding="utf-8")
    market = scenario.market()
    of_list = market.maps["watch_list"]
    both = of_list.model_copy(update={"columns": {**of_list.columns, "closed_on": ("closes", "time")}})
    changed = market.model_copy(update={"maps": {**market.maps, "watch_list": both}})

    lot = read_lots(path, changed, as_of=VALUED_ON)[0].row(0, named=True)
    assert (lot["closed_on"], lot["closes_at"]) == (date(2026, 10, 10), "14:20")
