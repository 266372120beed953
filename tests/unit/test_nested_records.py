"""Records are found wherever they lie in a JSON file, by one rule, or the owner is asked which they are."""

import json
from pathlib import Path

import pytest

from pipeline.errors import ExportError
from pipeline.ingest.proposal import propose_map
from pipeline.ingest.readers import Hints, TextTable
from pipeline.ingest.readers.records import read_records
from tests.fuzz import MARKET

LINES = [{"title": "Gannet Hi", "price": 10}, {"title": "Plover Lo", "price": 20}]
ORDERS = [{"number": 1, "lines": LINES}, {"number": 2, "lines": LINES[:1]}]


def _read(value: object, **hints: object) -> TextTable:
    return read_records(json.dumps(value).encode(), Hints(**hints), where="x.json")  # type: ignore[arg-type]


def test_the_lines_of_orders_are_the_records_since_they_describe_a_pair() -> None:
    assert _read(ORDERS).cells.rows() == [
        ("1", "Gannet Hi", "10"),
        ("1", "Plover Lo", "20"),
        ("2", "Gannet Hi", "10"),
    ]


def test_fields_of_an_order_stand_under_their_keys_and_of_its_lines_under_dotted_ones() -> None:
    table = _read([{"order": {"date": "2021-03-04"}, "lines": LINES}])
    assert table.cells.columns == ["order.date", "lines.title", "lines.price"]


def test_a_list_of_pictures_is_no_list_of_records() -> None:
    table = _read([{"lot": 1, "title": "a", "pictures": [{"url": "x"}, {"url": "y"}]}])
    assert table.cells.rows() == [("1", "a", '[{"url":"x"},{"url":"y"}]')]


def test_two_lists_that_describe_pairs_are_both_named() -> None:
    with pytest.raises(
        ExportError, match=r'2 lists that may hold(?s:.*)`records = "\."` or `records = "similar"`'
    ):
        _read([{"title": "a", "price": 1, "similar": LINES}])


def test_the_name_of_a_customer_describes_no_pair() -> None:
    orders = [{"order_code": "D1", "customer_name": "Ansgar Pell", "line_items": LINES}]

    assert _read(orders).cells.columns[-2:] == ["line_items.title", "line_items.price"]


def test_of_an_order_with_a_title_the_lines_that_have_a_quantity_are_the_records() -> None:
    lines = [{"title": "Gannet Hi", "quantity": 2}, {"title": "Plover Lo", "quantity": 1}]

    assert _read([{"title": "Order 7", "lines": lines}]).cells.height == 2


def test_a_proposed_map_says_which_list_the_records_are(tmp_path: Path) -> None:
    (tmp_path / "orders.json").write_text(json.dumps({"orders": ORDERS}))

    assert 'records = "orders.lines"' in propose_map(tmp_path / "orders.json", MARKET).to_toml()


def test_the_outermost_list_may_be_stated() -> None:
    assert _read([{"title": "a", "price": 1, "similar": LINES}], records=".").cells.height == 1


def test_the_columns_of_the_map_tell_which_list_holds_the_records() -> None:
    value = [{"title": "a", "price": 1, "similar": LINES}]
    assert _read(value, wanted=("similar.price",)).cells.height == 2


def test_a_record_of_a_document_that_is_one_object_is_one_row() -> None:
    assert _read({"lot": 1, "title": "a"}).cells.rows() == [("1", "a")]


def test_a_key_with_a_value_and_with_an_object_stays_one_cell() -> None:
    assert _read([{"price": 1}, {"price": {"value": 2}}]).cells.rows() == [("1",), ('{"value":2}',)]


def test_an_object_of_hundreds_of_keys_stays_one_cell() -> None:
    table = _read([{"lot": 1, "codes": {f"k{n}": n for n in range(300)}}])
    assert table.cells.columns == ["lot", "codes"]


@pytest.mark.parametrize("levels", [40, 2_000, 100_000])
@pytest.mark.parametrize(("opened", "closed"), [('{"a":', "}"), ("[", "]")])
def test_records_nested_without_end_are_refused(opened: str, closed: str, levels: int) -> None:
    nested = f'[{{"lot":1,"deep":{opened * levels}1{closed * levels}}}]'
    with pytest.raises(ExportError, match=r"x\.json is nested deeper than 32 levels"):
        read_records(nested.encode(), Hints(), where="x.json")


def test_records_of_millions_of_keys_by_lot_are_refused_or_read_in_words() -> None:
    value = {f"k{n}": {f"a{n}": 1} for n in range(3_000)}
    with pytest.raises(ExportError, match="has 3,000 columns, and 1,000 are the most"):
        _read(value)


def test_the_order_of_keys_is_that_in_which_they_come() -> None:
    assert _read([{"b": 1, "a": {"d": 1, "c": 2}}, {"e": 1, "a": {"f": 1}}]).cells.columns == [
        *("b", "a.d", "a.c", "a.f", "e"),
    ]


def test_lists_within_lists_of_objects_are_all_gone_through() -> None:
    value = {
        "sales": [
            {"day": "2021-03-04", "lots": [{"no": 1, "offers": LINES}]},
            {"day": "2021-03-05", "lots": []},
        ]
    }
    table = _read(value, records="sales.lots.offers")
    assert table.cells.rows() == [
        ("2021-03-04", "1", "Gannet Hi", "10"),
        ("2021-03-04", "1", "Plover Lo", "20"),
    ]


def test_blank_lines_between_orders_move_no_field_to_another_order() -> None:
    content = "\n\n".join(map(json.dumps, ORDERS)).encode()
    table = read_records(content, Hints(), where="x.jsonl")
    assert table.cells["number"].to_list() == ["1", "1", "2"]


def test_an_order_without_lines_is_put_aside() -> None:
    table = _read([*ORDERS, {"number": 3, "lines": []}])
    assert table.faults.rows() == [
        (4, "its list of records is empty", r'{"line":"{\"number\":3,\"lines\":[]}"}')
    ]


def test_a_map_is_proposed_for_the_lines_of_orders(tmp_path: Path) -> None:
    path = tmp_path / "orders.json"
    path.write_text(json.dumps({"data": ORDERS}))
    assert [column.column for column in propose_map(path, MARKET).columns] == [
        *("number", "lines.title", "lines.price"),
    ]
