"""The factors of a pair are made in one way, whether it was sold, is in stock or is described."""

from datetime import date

import polars as pl
import pytest
from polars.testing import assert_frame_equal, assert_series_equal

from pipeline.ledger import open_ledger
from pipeline.market.model import ANY_VENUE, month_number, pair_factors, record_factors
from pipeline.market.pair import Pair
from pipeline.schema import FACTORS
from tests.demo_ledger import demo_ledger, demo_sales

VALUED_ON = date(2026, 10, 1)


@pytest.fixture(scope="module")
def records() -> pl.DataFrame:
    """Return the records of the demo's priced sales, in the order of these."""
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        sales = pl.DataFrame(ledger.connection.sql("SELECT * FROM sales"))
    return demo_sales().select("record_id").join(sales, on="record_id", how="left", maintain_order="left")


@pytest.mark.parametrize("name", [name for name in FACTORS if name != "month"])
def test_a_factor_of_a_sale_is_that_of_its_record(name: str, records: pl.DataFrame) -> None:
    made = record_factors(records, as_of=VALUED_ON)
    assert_series_equal(made[name], demo_sales()[name])


def test_the_month_of_a_sale_is_that_of_its_day(records: pl.DataFrame) -> None:
    assert demo_sales()["month"].to_list() == [month_number(day) for day in records["sold_on"]]


def test_a_described_pair_has_the_factors_of_its_record() -> None:
    described = Pair("Gannet Hi", "Buoy Red", None, None, None, 273, 8.5, None, "loose", parts=("laces",))
    record = pl.DataFrame(
        {
            "silhouette": "Gannet Hi", "colourway": "Buoy Red", "era": None, "foot_mm": 273, "grade": 8.5,
            "box": None, "tags": "loose", "overlay": None, "parts": [["laces"]], "defects": None,
            "treatments": None, "venue": None,
        }
    )  # fmt: skip
    assert_frame_equal(pair_factors((described,), as_of=VALUED_ON), record_factors(record, as_of=VALUED_ON))


def test_what_is_not_known_of_a_pair_is_unknown_null_or_any_venue() -> None:
    [factors] = pair_factors((Pair("Gannet Hi", foot_mm=273),), as_of=VALUED_ON).to_dicts()
    assert (factors["box"], factors["grade"], factors["defects"]) == ("unknown", None, None)
    assert (factors["venue"], factors["size_mm"], factors["month"]) == (ANY_VENUE, 275, 24321)


def test_no_pairs_have_no_factors() -> None:
    assert pair_factors((), as_of=VALUED_ON).schema == FACTORS
