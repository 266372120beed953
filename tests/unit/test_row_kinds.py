"""Rows that are no records are set aside only where that is clear, and an order's fields are filled down only there."""

from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from pydantic import ValidationError

from pipeline.config import ExportMap, Market
from pipeline.ingest.lots import read_lots
from pipeline.ingest.proposal import propose_map
from pipeline.ingest.readers import TextTable
from pipeline.ingest.readers.table import text_table
from pipeline.ingest.row_kinds import lay_out, order_columns
from pipeline.ledger import Ledger, open_ledger
from tests.exports import AS_OF, ingest, write_holm
from tests.fuzz import MARKET

PLAIN = {
    "venue": "Holm Sound Auctions",
    "files": "x.csv",
    "price_basis": "all-in",
    "columns": {"lot_ref": "lot", "title": "title", "closed_on": "day", "price_native": "price"},
}
Row = tuple[str | None, ...]


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


def _table(*rows: Row) -> TextTable:
    cells = pl.DataFrame(
        rows, schema=dict.fromkeys(("lot", "title", "day", "price"), pl.String), orient="row"
    )
    return text_table(cells, pl.Series("row_number", range(2, len(rows) + 2)))


def _lots(*rows: Row, **mapped: object) -> list[str | None]:
    laid_out = lay_out(_table(*rows), ExportMap.model_validate(PLAIN | mapped), where="x.csv")
    return laid_out.cells["lot"].to_list()


SALE: Row = ("1", "a", "2021-03-04", "10")
OTHER: Row = ("2", "b", "2021-03-05", "20")


def test_a_heading_in_the_first_column_is_no_sale() -> None:
    assert _lots(SALE, ("Autumn sale", None, None, None), OTHER) == ["1", "2"]


def test_a_title_alone_in_another_column_is_a_row() -> None:
    assert _lots(SALE, (None, "Gannet Hi", None, None), OTHER) == ["1", None, "2"]


def test_a_lot_number_alone_is_a_row() -> None:
    assert _lots(SALE, ("3", None, None, None), OTHER) == ["1", "3", "2"]


def test_a_name_alone_in_a_list_of_stock_may_be_a_pair() -> None:
    assert _lots(SALE, ("Gannet Hi", None, None, None), OTHER, holds="stock") == ["1", "Gannet Hi", "2"]


def test_a_heading_that_is_set_off_by_signs_is_none_of_the_stock() -> None:
    assert _lots(SALE, ("— Shelf B —", None, None, None), OTHER, holds="stock") == ["1", "2"]


def test_a_heading_of_three_hundred_signs_is_a_row() -> None:
    assert len(_lots(SALE, ("a" * 300, None, None, None), OTHER)) == 3


@pytest.mark.parametrize(
    "word",
    [
        "Total",
        "TOTAL:",
        "Summe (2)",
        "Somme",
        "合計",
        "Razem",
        "Итого",
        "Összesen",
        "Genel toplam",
        "Σύνολο",
        "합계",
    ],
)
def test_a_row_that_says_total_and_holds_an_amount_is_no_sale(word: str) -> None:
    assert _lots(SALE, OTHER, (None, word, None, "€ 30,00")) == ["1", "2"]


def test_a_pair_that_is_called_total_and_sold_on_a_day_is_a_sale() -> None:
    assert _lots(SALE, OTHER, (None, "Total", "2021-03-06", "30")) == ["1", "2", None]


def test_a_row_that_says_total_and_describes_a_pair_is_a_row() -> None:
    assert _lots(SALE, OTHER, ("Total", "Gannet Hi UK 9", None, "30")) == ["1", "2", "Total"]


def test_an_amount_alone_that_is_the_sum_of_those_above_is_no_sale() -> None:
    assert _lots(SALE, OTHER, (None, None, None, "30")) == ["1", "2"]


def test_an_amount_alone_that_is_not_the_sum_is_a_row() -> None:
    assert _lots(SALE, OTHER, (None, None, None, "31")) == ["1", "2", None]


def test_an_amount_alone_that_repeats_the_only_one_above_is_a_row() -> None:
    assert _lots(SALE, (None, None, None, "10")) == ["1", None]


def test_the_sums_of_parts_and_of_all_are_both_none() -> None:
    third = ("3", "c", "2021-03-06", "5")
    parts = (
        SALE,
        OTHER,
        (None, None, None, "30"),
        third,
        third,
        (None, None, None, "10"),
        (None, None, None, "40"),
    )
    assert _lots(*parts) == ["1", "2", "3", "3"]


def test_a_narrow_table_has_no_headings() -> None:
    cells = pl.DataFrame({"lot": ["1", "Autumn"], "title": ["a", None]})
    laid_out = lay_out(text_table(cells, pl.Series("row_number", [2, 3])), None, where="x.csv")
    assert laid_out.cells.height == 2


def test_rows_read_are_recorded_duplicate_or_quarantined_beside_those_that_are_none(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    sold = "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;"
    broken = "3;Plover Lo UK 8;31.02.2021;80,00;zugeschlagen;42;"
    export = write_holm(
        tmp_path, "— Herbst —;;;;;;", sold, sold, broken, "Summe;;;1.280,00;;;", "*** Winter ***"
    )
    [file] = ingest(ledger, market, [export]).files
    assert (file.read, file.recorded, file.duplicates, file.quarantined) == (3, 1, 1, 1)


def test_a_file_that_is_read_again_says_again_what_was_set_aside(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    export = write_holm(tmp_path, "— Herbst —;;;;;;", "1;Gannet Hi UK 9;04.03.2021;600,00;zugeschlagen;43;")
    first, again = (ingest(ledger, market, [export]).files[0] for _ in range(2))
    assert again.notes == first.notes != ()


def test_headings_in_a_list_of_lots_are_no_lots(market: Market, tmp_path: Path) -> None:
    lots = tmp_path / "x.csv"
    lots.write_text("lot,title,day,price\n— Session one —,,,\n1,Gannet Hi UK 9,2026-09-01,10\nTotal,,,10\n")
    mapped = ExportMap.model_validate(PLAIN | {"holds": "lots", "currency": "EUR"})
    pairs, refused, _ = read_lots(lots, market.model_copy(update={"maps": {"x": mapped}}), as_of=AS_OF)
    assert (pairs["lot_ref"].to_list(), refused.height) == (["1"], 0)


def test_what_was_set_aside_of_a_list_of_lots_is_said(market: Market, tmp_path: Path) -> None:
    lots = tmp_path / "x.csv"
    lots.write_text("lot,title,day,price\n— Session one —,,,\n1,Gannet Hi UK 9,2026-09-01,10\nTotal,,,10\n")
    mapped = ExportMap.model_validate(PLAIN | {"holds": "lots", "currency": "EUR"})
    *_, notes = read_lots(lots, market.model_copy(update={"maps": {"x": mapped}}), as_of=AS_OF)
    said = " ".join(notes)
    assert ("Session one" in said, "Total" in said) == (True, True)


def _orders(**columns: list[str | None]) -> list[str]:
    return order_columns(pl.DataFrame(columns))


def test_the_fields_of_an_order_are_those_that_its_first_line_alone_fills() -> None:
    assert _orders(
        order=["1", None, "2"], day=["x", None, "y"], title=["a", "b", "c"], price=["1", "2", "3"]
    ) == ["order", "day"]


@pytest.mark.parametrize(
    "columns",
    [
        {"lot": ["1", None, "2"], "day": ["x", None, "y"]},
        {"order": [None, "1", "2"], "day": [None, "x", "y"]},
        {"order": ["1", None, "1"], "day": ["x", None, "y"]},
        {"order": ["1", None, "2"], "day": ["x", "x", "y"]},
        {"order": ["1", "2", "3"], "day": ["x", "x", "y"]},
    ],
    ids=["no column of orders", "nothing above", "an order twice", "a day on each line", "nothing empty"],
)
def test_where_the_evidence_is_not_clear_nothing_is_an_orders(columns: dict[str, list[str | None]]) -> None:
    assert _orders(**columns, title=["a", "b", "c"], price=["1", "2", "3"]) == []


def test_a_line_that_repeats_the_one_above_is_no_evidence_of_an_order() -> None:
    assert _orders(order=["1", None], day=["x", None], title=["a", "a"], price=["1", "1"]) == []


def test_fill_down_fills_only_where_the_first_column_is_empty() -> None:
    rows = (("1", "a", "x", "10"), (None, "b", None, "20"), ("2", "c", None, "30"), (None, "d", None, "40"))
    filled = lay_out(
        _table(*rows), ExportMap.model_validate(PLAIN | {"fill_down": ["lot", "day"]}), where="x.csv"
    ).cells
    assert filled.select("lot", "day").rows() == [("1", "x"), ("1", "x"), ("2", None), ("2", None)]


def test_a_price_that_would_count_once_a_line_is_refused() -> None:
    with pytest.raises(ValidationError, match="filled down it would count once a line"):
        ExportMap.model_validate(PLAIN | {"fill_down": ["price"]})


def test_a_group_heading_that_no_field_reads_is_refused() -> None:
    with pytest.raises(ValidationError, match="no field of `columns` reads a column of that name"):
        ExportMap.model_validate(PLAIN | {"group_heading": "Sale"})


def test_a_proposed_map_fills_down_the_fields_of_orders(tmp_path: Path) -> None:
    export = tmp_path / "orders.csv"
    export.write_text("Order no,Date,Item,title\n1001,2021-03-04,7,a\n,,8,b\n1002,2021-03-05,9,c\n")
    assert 'fill_down = ["Order no", "Date"]' in propose_map(export, MARKET).to_toml()
