"""Refunds, returns and orders that came to nothing undo their sale, whichever file has them and in whatever order."""

from collections.abc import Iterator
from itertools import permutations
from pathlib import Path

import polars as pl
import pytest

from pipeline.config import ExportMap, Market
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import ingest, write_lantern
from tests.kept import sales_of

SOLD = "7,TP-1,Gannet Hi first run,2021-02-01,2021-03-04,120,100,sold,UK 9,8,original"
OTHER = "8,TP-2,Plover Lo,2021-02-01,2021-03-05,90,80,sold,UK 8,7,none"
REFUND = "7,,Gannet Hi first run,,2021-03-20,,{},sold,,,"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _sale(ledger: Ledger, market: Market, folder: Path, *rows: str) -> dict[str, object]:
    """Read rows of one file; return what is recorded of the Gannet."""
    ingest(ledger, market, [write_lantern(folder, *rows)])
    assert run_checks(ledger) == ()
    return sales_of(ledger).filter(pl.col("silhouette") == "Gannet Hi").row(0, named=True)


def test_a_refund_of_the_whole_price_undoes_its_sale(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    sale = _sale(ledger, market, tmp_path, SOLD, OTHER, REFUND.format("-100"))
    assert (sale["status"], sale["price_paid"], sale["flags"]) == ("withdrawn", None, ["sale undone"])


def test_a_refund_leaves_other_sales_as_they_were(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _sale(ledger, market, tmp_path, SOLD, OTHER, REFUND.format("-100"))
    assert sales_of(ledger).filter(pl.col("status") == "sold")["title"].to_list() == ["Plover Lo"]


def test_a_part_refund_takes_its_amount_off_the_price(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    whole = _sale(ledger, market, tmp_path, SOLD)["price_paid"]
    folder = tmp_path / "later"
    folder.mkdir()
    sale = _sale(ledger, market, folder, REFUND.format("-25"))
    assert float(str(sale["price_paid"])) == pytest.approx(0.75 * float(str(whole)), abs=1e-4)


@pytest.mark.parametrize("word", ["returned", "refunded", "cancelled", "unpaid"])
def test_a_later_word_that_undoes_a_sale_undoes_it(
    ledger: Ledger, market: Market, tmp_path: Path, word: str
) -> None:
    undone = SOLD.replace("2021-03-04", "2021-03-09").replace("sold", word)
    assert _sale(ledger, market, tmp_path, SOLD, undone)["status"] == "withdrawn"


def test_the_owners_own_word_for_a_return_undoes_a_sale(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    words = {**market.maps["lantern"].status_words, "sent back": "returned"}
    mapped = ExportMap.model_validate(market.maps["lantern"].model_dump() | {"status_words": words})
    own = market.model_copy(update={"maps": {**market.maps, "lantern": mapped}})
    undone = SOLD.replace("2021-03-04", "2021-03-09").replace("sold", "sent back")
    assert _sale(ledger, own, tmp_path, SOLD, undone)["status"] == "withdrawn"


def test_an_amount_below_zero_that_is_called_withdrawn_undoes_its_sale(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    refund = REFUND.format("-100").replace("sold", "withdrawn")
    assert _sale(ledger, market, tmp_path, SOLD, OTHER, refund)["flags"] == ["sale undone"]


def test_an_order_that_was_cancelled_is_no_sale(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    ingest(ledger, market, [write_lantern(tmp_path, OTHER, SOLD.replace("sold", "cancelled"))])
    assert sales_of(ledger)["title"].to_list() == ["Plover Lo"]


def test_a_refund_without_its_sale_is_put_aside_and_listed(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    [file] = ingest(ledger, market, [write_lantern(tmp_path, OTHER, REFUND.format("-100"))]).files
    assert (file.recorded, file.quarantined, file.put_aside) == (1, 0, 1)
    assert "refunded; the sale that it would undo is not in the ledger" in quarantine_csv(ledger)


def test_a_refund_without_a_number_finds_the_one_sale_of_its_title_and_amount(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    refund = REFUND.format("-100").replace("7,", ",", 1)
    assert _sale(ledger, market, tmp_path, SOLD, refund)["status"] == "withdrawn"


def test_a_refund_without_a_number_after_90_days_is_not_matched(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    refund = REFUND.format("-100").replace("7,", ",", 1).replace("2021-03-20", "2021-06-20")
    assert _sale(ledger, market, tmp_path, SOLD, refund)["status"] == "sold"


def test_a_refund_that_two_sales_may_be_meant_by_undoes_neither(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    like_it = SOLD.replace("7,TP-1", "9,TP-3")
    refund = REFUND.format("-100").replace("7,", ",", 1)
    ingest(ledger, market, [write_lantern(tmp_path, SOLD, like_it, refund)])
    assert sales_of(ledger)["status"].to_list() == ["sold", "sold"]


def test_a_refund_from_before_the_sale_is_of_another(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    refund = REFUND.format("-100").replace("2021-03-20", "2021-03-01")
    assert _sale(ledger, market, tmp_path, SOLD, refund)["status"] == "sold"


def test_a_refund_that_two_exports_have_is_taken_off_once(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    again = write_lantern(tmp_path, REFUND.format("-25"), name="lantern_refunds.csv")
    once = _sale(ledger, market, tmp_path, SOLD, REFUND.format("-25"))["price_paid"]
    ingest(ledger, market, [again])
    assert sales_of(ledger)["price_paid"].to_list() == [once]


def test_the_order_of_files_changes_nothing_of_refunds(market: Market, tmp_path: Path) -> None:
    told = []
    parts = {"lantern_a.csv": SOLD, "lantern_b.csv": REFUND.format("-25"), "lantern_c.csv": OTHER}
    for place, names in enumerate(permutations(parts)):
        with open_ledger(tmp_path / f"{place}.duckdb", create=True) as ledger:
            for name in names:
                ingest(ledger, market, [write_lantern(tmp_path, parts[name], name=name)])
            told.append(sales_of(ledger).sort("record_id").to_dicts())
    assert all(one == told[0] for one in told)


def test_an_offer_that_was_accepted_and_undone_is_no_offer_that_waited(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _sale(ledger, market, tmp_path, SOLD, OTHER, REFUND.format("-100"))
    offers = ledger.read("marts/listings", venues=["Lantern Dock"], as_of="2021-12-31")
    assert offers["silhouette"].to_list() == ["Plover Lo"]


def test_a_file_that_is_read_again_keeps_its_refunds_once(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_lantern(tmp_path, SOLD, REFUND.format("-25"))
    ingest(ledger, market, [export])
    before = sales_of(ledger)
    ledger.connection.execute("UPDATE source_files SET reading_digest = 'another'").fetchall()
    ingest(ledger, market, [export])
    assert sales_of(ledger).equals(before)
