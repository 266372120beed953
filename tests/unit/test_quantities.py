"""A line of several pairs of one kind is so many sales, each at the price of one."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.answers.ingest.tables import row_sentence
from pipeline.config import ExportMap, Market
from pipeline.ingest.put_right import remove
from pipeline.ingest.quarantine import quarantine_csv
from pipeline.ingest.review import Decision, rule
from pipeline.ingest.run import IngestRun
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import AS_OF, ingest
from tests.kept import sales_of

HEADER = "order,sku,title,date,paid,size,pieces"
COLUMNS = {
    "sale_ref": "order", "stock_ref": "sku", "title": "title", "closed_on": "date", "price_native": "paid",
    "size_label": "size", "quantity": "pieces",
}  # fmt: skip
ONE = "1001,TP-1,Gannet Hi,2021-03-04,100,UK 9,1"
THREE = "1002,TP-2,Plover Lo,2021-03-05,240,UK 8,3"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _map(**changed: object) -> ExportMap:
    keys = {
        "venue": "Lantern Dock", "files": "orders*.csv", "price_basis": "all-in", "quantity_price": "line",
        "columns": COLUMNS,
    }  # fmt: skip
    return ExportMap.model_validate(keys | changed)


def _ingest(ledger: Ledger, market: Market, folder: Path, *rows: str, **changed: object) -> IngestRun:
    path = folder / "orders.csv"
    path.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    run = ingest(ledger, market.model_copy(update={"maps": {"orders": _map(**changed)}}), [path])
    assert run_checks(ledger) == ()
    return run


def _plovers(ledger: Ledger) -> pl.DataFrame:
    return sales_of(ledger).filter(pl.col("silhouette") == "Plover Lo")


def test_a_line_of_three_pairs_is_three_sales_at_a_third_of_its_price(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _ingest(ledger, market, tmp_path, ONE, THREE)
    assert [float(price) for price in _plovers(ledger)["price_native"]] == [80, 80, 80]


def test_a_price_of_one_pair_stays_as_it_is(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _ingest(ledger, market, tmp_path, ONE, THREE, quantity_price="unit")
    assert [float(price) for price in _plovers(ledger)["price_native"]] == [240, 240, 240]


def test_the_pairs_of_one_line_are_different_pairs(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _ingest(ledger, market, tmp_path, THREE)
    assert sorted(_plovers(ledger)["stock_ref"]) == ["TP-2", "TP-2 (2 of 3)", "TP-2 (3 of 3)"]
    assert _plovers(ledger)["pair_key"].n_unique() == 3


def test_the_pairs_of_a_line_without_a_number_are_as_many_sales(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _ingest(ledger, market, tmp_path, THREE.replace("1002,TP-2", ","))
    assert _plovers(ledger)["record_id"].n_unique() == 3


def test_further_pairs_of_lines_are_counted_beside_the_rows(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    run = _ingest(ledger, market, tmp_path, ONE, THREE)
    assert row_sentence(run) == (
        "2 rows read + 2 from quantities = 4 recorded + 0 duplicates + 0 quarantined"
    )


def test_an_empty_quantity_is_one_pair(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    _ingest(ledger, market, tmp_path, THREE.removesuffix("3"))
    assert _plovers(ledger).height == 1


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("two", "not a number of pairs"),
        ("0", "a line of no pair"),
        ("1000", "more than 100 pairs in one line"),
    ],
)
def test_a_quantity_that_is_none_puts_its_row_in_quarantine(
    ledger: Ledger, market: Market, tmp_path: Path, said: str, reason: str
) -> None:
    run = _ingest(ledger, market, tmp_path, ONE, THREE.removesuffix("3") + said)
    assert [(one.field, one.reason) for one in run.files[0].reasons] == [("quantity", reason)]


@pytest.mark.parametrize(
    "mixed",
    [THREE.replace("Plover Lo", "Plover Lo and Gannet Hi"), THREE.replace("UK 8", '"UK 8, UK 9, UK 10"')],
)
def test_a_line_of_pairs_of_several_kinds_is_put_aside(
    ledger: Ledger, market: Market, tmp_path: Path, mixed: str
) -> None:
    run = _ingest(ledger, market, tmp_path, ONE, mixed)
    assert (run.files[0].recorded, run.files[0].put_aside) == (1, 1)
    assert "several pairs" in quarantine_csv(ledger)


def test_a_negative_quantity_takes_a_sale_back(ledger: Ledger, market: Market, tmp_path: Path) -> None:
    back = ONE.replace("2021-03-04,100", "2021-03-09,-100").removesuffix("1") + "-1"
    _ingest(ledger, market, tmp_path, ONE, back)
    assert sales_of(ledger)["status"].to_list() == ["withdrawn"]


BACK = "1002,TP-2,Plover Lo,2021-03-20,{},UK 8,{}"


def _left(ledger: Ledger) -> list[float | None]:
    """Return what was paid for each pair of the line, None where its sale was undone."""
    pairs = _plovers(ledger).sort("stock_ref")
    return [None if status == "withdrawn" else float(price)
            for status, price in pairs.select("status", "price_native").iter_rows()]  # fmt: skip


@pytest.mark.parametrize(
    ("amount", "pieces", "left"),
    [
        ("-240", "-3", [None, None, None]),
        ("-240", "", [None, None, None]),
        ("-160", "-2", [None, None, 80]),
        ("-160", "", [None, None, 80]),
        ("-80", "-1", [None, 80, 80]),
        ("-80", "", [None, 80, 80]),
        ("-20", "-1", [60, 80, 80]),
        ("-100", "", [None, 60, 80]),
    ],
)
def test_a_refund_of_a_line_undoes_as_many_pairs_as_it_pays_for(
    ledger: Ledger, market: Market, tmp_path: Path, amount: str, pieces: str, left: list[float | None]
) -> None:
    _ingest(ledger, market, tmp_path, ONE, THREE, BACK.format(amount, pieces))
    assert _left(ledger) == left


def test_a_refund_of_pairs_at_the_price_of_one_pays_for_all_of_them(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = (ONE, THREE.replace("240", "80"), BACK.format("-80", "-2"))
    _ingest(ledger, market, tmp_path, *rows, quantity_price="unit")
    assert _left(ledger) == [None, None, 80]


def test_refunds_of_a_line_one_after_the_other_undo_one_pair_each(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    later = BACK.format("-80", "-1").replace("2021-03-20", "2021-03-25")
    _ingest(ledger, market, tmp_path, ONE, THREE, BACK.format("-80", "-1"), later)
    assert _left(ledger) == [None, None, 80]


def test_a_refund_of_a_line_without_any_number_is_found_by_its_title_and_total(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    back = BACK.format("-240", "").replace("1002,TP-2", ",")
    _ingest(ledger, market, tmp_path, ONE, THREE, back)
    assert _left(ledger) == [None, None, None]


def test_a_refund_of_a_line_leaves_the_lines_beside_it(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    other = THREE.replace("1002,TP-2", "1003,TP-3")
    _ingest(ledger, market, tmp_path, ONE, THREE, other, BACK.format("-240", "-3"))
    assert _left(ledger) == [None, None, None, 80, 80, 80]


def test_a_refund_of_a_line_undoes_the_pairs_that_the_owner_left(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _ingest(ledger, market, tmp_path, ONE, THREE, BACK.format("-160", "-2"))
    first = _plovers(ledger).sort("stock_ref")["record_id"][0]
    remove(ledger, market, [first], note="", ruled_at=datetime(2026, 7, 1), as_of=AS_OF)
    assert _left(ledger) == [None, None]


def test_a_decision_on_one_pair_of_a_line_follows_it_alone(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    line = THREE.replace("1002,TP-2", ",")
    _ingest(ledger, market, tmp_path, ONE, line)
    held = _plovers(ledger)["record_id"][1]
    rule(ledger, market, Decision("hold", held), ruled_at=datetime(2026, 7, 1))
    _ingest(ledger, market, tmp_path, ONE, line.replace("240", "270"))
    assert _plovers(ledger)["held_out"].sum() == 1


@pytest.mark.parametrize(
    ("changed", "match"),
    [
        ({"quantity_price": None}, "`quantity_price` is missing"),
        ({"columns": {"price_native": "paid"}}, "needs a column for `quantity`"),
        ({"holds": "stock"}, "lines of an export of sales"),
    ],
)
def test_a_map_says_whose_price_a_line_with_a_quantity_has(changed: dict[str, object], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        _map(**changed)
