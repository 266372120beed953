"""The demo's exports come to what the demo says of them."""

import json
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

import pytest

from pipeline.config import load_market
from pipeline.ingest.lots import read_lots
from pipeline.ingest.run import IngestRun, ingest_files
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from pipeline.shipped import shipped
from tests.kept import sales_of

SAMPLE = shipped("sample_data")
EXPECTED: dict[str, Any] = json.loads((SAMPLE / "expected.json").read_text(encoding="utf-8"))
AS_OF = date(2026, 10, 1)
FILES = sorted(EXPECTED["files"])


BELOW_ZERO = "(undone sale)"
"""The field of a price below zero: it undoes a sale, and no sale of the demo is the one that it would undo."""


@pytest.fixture(scope="module")
def ingested(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Ledger, IngestRun]]:
    with open_ledger(tmp_path_factory.mktemp("sample") / "ledger.duckdb", create=True) as ledger:
        files = [SAMPLE / "exports" / name for name in FILES]
        market = load_market(SAMPLE / "market.toml")
        yield ledger, ingest_files(ledger, market, files, as_of=AS_OF, loaded_at=datetime(2026, 10, 1))


@pytest.mark.parametrize("name", FILES)
def test_every_row_of_an_export_is_counted_as_the_demo_says(
    ingested: tuple[Ledger, IngestRun], name: str
) -> None:
    [told] = [file for file in ingested[1].files if file.name == name]
    expected = EXPECTED["files"][name]
    assert (told.read, told.recorded, told.duplicates, told.quarantined + told.put_aside) == (
        expected["rows"], expected["records"], expected["duplicates"], expected["no_record"],
    )  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_the_rows_that_are_no_record_are_those_that_the_demo_spoilt(
    ingested: tuple[Ledger, IngestRun], name: str
) -> None:
    listed = ingested[0].read("staging/quarantine_list").filter(file_name=name)
    told = {
        (row["sheet"], row["row_number"], "price_native" if row["field"] == BELOW_ZERO else row["field"])
        for row in listed.to_dicts()
    }
    spoilt = EXPECTED["files"][name]["rows_that_are_no_record"]
    assert told == {(row["sheet"] or "", row["row_number"], row["field"]) for row in spoilt}


def test_the_offers_end_as_the_demo_says(ingested: tuple[Ledger, IngestRun]) -> None:
    counted = sales_of(ingested[0])["status"].value_counts()
    assert dict(counted.rows()) == EXPECTED["all"]["records_by_status"]


def test_every_resale_of_a_pair_is_found(ingested: tuple[Ledger, IngestRun]) -> None:
    assert ingested[0].read("marts/repeat_sales").height == EXPECTED["resales"]


@pytest.mark.parametrize(
    ("told", "flag"),
    [("era in conflict", "era in conflict"), ("size that cannot be", "size label unreadable")],
)
def test_what_the_demo_made_odd_is_flagged_and_nothing_else(
    ingested: tuple[Ledger, IngestRun], told: str, flag: str
) -> None:
    flags = sales_of(ingested[0])["flags"]
    assert flags.list.contains(flag).sum() == len(EXPECTED["odd_records"][told])


def test_four_re_offers_in_five_without_a_stock_number_join_their_history(
    ingested: tuple[Ledger, IngestRun],
) -> None:
    sales = sales_of(ingested[0])
    histories = sales.filter(sales["stock_ref"].is_null() & sales["pair_key"].is_not_null())
    joined = histories.height - histories["pair_key"].n_unique()
    made = EXPECTED["re_offers"] - EXPECTED["re_offers_with_stock_number"]
    assert 0.75 * made <= joined <= made


def test_the_ledger_of_the_demo_is_sound(ingested: tuple[Ledger, IngestRun]) -> None:
    assert run_checks(ingested[0]) == ()


@pytest.mark.parametrize(("name", "key"), [("upcoming_lots.csv", "upcoming_lots"), ("stock.csv", "stock")])
def test_lots_and_stock_of_the_demo_are_read_whole(name: str, key: str) -> None:
    market = load_market(SAMPLE / "market.toml")
    pairs, refused, *_ = read_lots(SAMPLE / "exports" / name, market, as_of=AS_OF)
    expected = EXPECTED[key]
    assert pairs.height == (sum(expected.values()) if isinstance(expected, dict) else expected)
    assert refused.height == 0
