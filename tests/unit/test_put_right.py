"""The owner puts records right: what is corrected, removed or added by hand, what follows, and taking it back."""

import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from pipeline.config import Market
from pipeline.errors import CorrectionError, DecisionError, UnknownName
from pipeline.ingest.decision_file import bring_in, decision_rows
from pipeline.ingest.put_right import (
    PutRight,
    add,
    correct,
    decisions,
    find_record,
    remove,
    remove_file,
    short_ids,
    undo,
)
from pipeline.ingest.review import Decision, rule
from pipeline.ingest.same import find_keys, key_rows
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.exports import AS_OF, ingest, write_holm, write_lantern
from tests.kept import sales_of

RULED_AT = datetime(2026, 7, 1)
FIRST_OF_TITLE = "1;Gannet Hi Buoy Red, first run, UK 9;04.03.2021;600,00;zugeschlagen;43;"
PLOVER = "2;Plover Lo;05.03.2021;80;zugeschlagen;42;"
ON_LANTERN = "7,TP-1,Gannet Hi,2021-02-01,2021-03-04,,100,sold,UK 9,8,"
BY_HAND = {"venue": "Lantern Dock", "sold_on": "2024-05-03", "price_native": "240", "silhouette": "Gannet Hi"}
LOTS_OF_ONE_NUMBER = (("Gannet Hi", 600), ("Plover Lo", 70), ("Ostrel Gannet Hi", 500))


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as opened:
        yield opened


@pytest.fixture(scope="module")
def read_once(market: Market, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with two lots of an auction, a Gannet Hi and a Plover Lo, and a ledger that holds them."""
    folder = tmp_path_factory.mktemp("holm")
    with open_ledger(folder / "ledger.duckdb", create=True) as opened:
        ingest(opened, market, [write_holm(folder, FIRST_OF_TITLE, PLOVER)])
    return folder


@pytest.fixture
def of_holm(read_once: Path, tmp_path: Path) -> Iterator[Ledger]:
    """Return a copy of that ledger, beside the export that it was read from."""
    shutil.copytree(read_once, tmp_path, dirs_exist_ok=True)
    with open_ledger(tmp_path / "ledger.duckdb") as opened:
        yield opened


def _id(ledger: Ledger, at: int = 0) -> str:
    return str(sales_of(ledger)["record_id"][at])


def _sale(ledger: Ledger, at: int = 0) -> dict[str, Any]:
    return sales_of(ledger).to_dicts()[at]


def _correct(ledger: Ledger, market: Market, record: str, **said: str) -> PutRight:
    return correct(ledger, market, record, said, note="", ruled_at=RULED_AT, as_of=AS_OF)


def _add(ledger: Ledger, market: Market, **said: str) -> PutRight:
    return add(ledger, market, BY_HAND | said, note="", ruled_at=RULED_AT, as_of=AS_OF)


def _remove(ledger: Ledger, market: Market, *records: str) -> int:
    return remove(ledger, market, records, note="", ruled_at=RULED_AT, as_of=AS_OF)


def test_a_corrected_price_gets_its_fees_and_what_the_buyer_paid(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), price_native="500")
    sale = _sale(of_holm)
    assert (sale["price_native"], sale["price_paid"], sale["net_native"]) == (500, 650, 450)


def test_a_corrected_size_gets_its_foot_length(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), size_label="UK 10")
    assert (_sale(of_holm)["size_system"], _sale(of_holm)["foot_mm"]) == ("UK", 279)


def test_a_corrected_stamp_gets_its_era(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm, 1), stamp_text="03 88 - 05 88")
    assert (_sale(of_holm, 1)["era"], _sale(of_holm, 1)["era_origin"]) == ("second", "inferred")


def test_a_corrected_day_is_the_day_of_the_sale(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), closed_on="2021-04-05")
    assert str(_sale(of_holm)["sold_on"]) == "2021-04-05"


def test_a_value_that_the_owner_corrected_says_so(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), grade="very good")
    assert (_sale(of_holm)["grade"], _sale(of_holm)["grade_origin"]) == (8.0, "corrected")


def test_a_corrected_era_leaves_no_conflict_with_the_title(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), era="second")
    sale = _sale(of_holm)
    assert (sale["era"], sale["flags"], sale["held_out"]) == ("second", [], False)


def test_a_value_that_is_not_known_is_not_taken_from_the_title(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), era="")
    assert (_sale(of_holm)["era"], _sale(of_holm)["era_origin"]) == (None, "unknown")


def test_a_colourway_of_the_title_does_not_go_with_another_silhouette(
    of_holm: Ledger, market: Market
) -> None:
    _correct(of_holm, market, _id(of_holm), silhouette="Plover Lo")
    assert (_sale(of_holm)["silhouette"], _sale(of_holm)["colourway"]) == ("Plover Lo", None)


def test_a_sale_that_was_none_is_corrected_by_its_status(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), status="withdrawn")
    assert (_sale(of_holm)["status"], _sale(of_holm)["price_paid"]) == ("withdrawn", None)


def test_of_two_corrections_of_one_field_the_later_counts(of_holm: Ledger, market: Market) -> None:
    for grade in ("8", "7", "8"):
        _correct(of_holm, market, _id(of_holm), grade=grade)
    assert _sale(of_holm)["grade"] == 8.0


def test_a_correction_holds_for_every_row_of_the_record(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    there = write_lantern(tmp_path, ON_LANTERN.replace("7,TP", "9,TP"), name="lantern_b.csv")
    ingest(ledger, market, [write_lantern(tmp_path, ON_LANTERN), there])
    _correct(ledger, market, _id(ledger), price_native="120")
    assert (sales_of(ledger)["all_in_native"].to_list(), _sale(ledger)["flags"]) == ([120], [])


def test_the_answer_names_each_field_before_and_after_and_what_follows(
    of_holm: Ledger, market: Market
) -> None:
    found = _correct(of_holm, market, _id(of_holm), price_native="500,00")
    changed = {one.field: (one.before, one.after, one.follows) for one in found.changes}
    assert changed["price_native"] == ("600", "500", False)
    assert changed["price_paid"] == ("774", "650", True)


def test_a_correction_survives_reading_the_file_again_in_another_way(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    _correct(of_holm, market, _id(of_holm), grade="8")
    of_holm.connection.execute("UPDATE source_files SET reading_digest = 'another'").fetchall()
    ingest(of_holm, market, [tmp_path / "holm_2021.csv"])
    assert (_sale(of_holm)["grade"], run_checks(of_holm)) == (8.0, ())


def test_a_decision_follows_its_row_when_a_better_map_changes_what_it_is_known_by(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    before = _id(of_holm)
    _correct(of_holm, market, before, grade="8")
    holm = market.maps["holm"]
    columns = {name: heading for name, heading in holm.columns.items() if name != "lot_ref"}
    better = market.model_copy(
        update={"maps": market.maps | {"holm": holm.model_copy(update={"columns": columns})}}
    )
    ingest(of_holm, better, [tmp_path / "holm_2021.csv"])
    assert _id(of_holm) != before
    assert _sale(of_holm)["grade"] == 8.0


def test_a_row_without_kept_cells_is_corrected_from_what_it_stated(of_holm: Ledger, market: Market) -> None:
    of_holm.connection.execute("DELETE FROM source_rows").fetchall()
    before = _sale(of_holm)
    _correct(of_holm, market, _id(of_holm), notes="seen")
    after = _sale(of_holm)
    assert {name for name in before if before[name] != after[name]} == {"notes"}


def test_a_row_whose_map_is_gone_is_corrected_from_what_it_stated(of_holm: Ledger, market: Market) -> None:
    without = market.model_copy(update={"maps": {}})
    _correct(of_holm, without, _id(of_holm), price_native="500")
    assert _sale(of_holm)["price_paid"] == 650


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("size_label", "banana", "size_label 'banana': .*nothing was changed"),
        ("era", "frist", "did you mean 'first'"),
        ("silhouette", "Gannet Hy", "did you mean 'Gannet Hi'"),
        ("grade", "11", "grade '11': "),
        ("sold_on", "31.02.2021", "write the day as 2024-05-03"),
        ("price_native", "much", "write the amount as 1234.50"),
        ("price_native", "0", "sold for zero"),
        ("price_native", "-5", "cannot undo a sale: refunded; nothing was changed\\nsay status=withdrawn"),
        ("status", "vanished", "known: sold, unsold, withdrawn, open"),
        ("box", "crate", "known: none, original, replacement"),
        ("defects", "yellowing, dents", "dents"),
        ("venue", "Lantern Duck", "did you mean 'Lantern Dock'"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_can(
    of_holm: Ledger, market: Market, field: str, text: str, words: str
) -> None:
    with pytest.raises(CorrectionError, match=words):
        _correct(of_holm, market, _id(of_holm), **{field: text})


def test_a_correction_that_is_refused_changes_nothing(of_holm: Ledger, market: Market) -> None:
    before = _dump(of_holm)
    with pytest.raises(CorrectionError, match="era 'frist'"):
        _correct(of_holm, market, _id(of_holm), grade="8", era="frist")
    assert _dump(of_holm) == before


def test_a_field_that_follows_from_others_is_not_corrected(of_holm: Ledger, market: Market) -> None:
    with pytest.raises(UnknownName, match="no field is called 'price_paid'"):
        _correct(of_holm, market, _id(of_holm), price_paid="5")


def test_the_same_correction_again_is_said_to_hold_already(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), grade="8")
    with pytest.raises(DecisionError, match="corrected so already"):
        _correct(of_holm, market, _id(of_holm), grade="8")


def test_an_era_that_was_decided_is_not_corrected_beside_it(of_holm: Ledger, market: Market) -> None:
    rule(of_holm, market, Decision("era", _id(of_holm), value="second"), ruled_at=RULED_AT)
    with pytest.raises(DecisionError, match="decided already: 'second'"):
        _correct(of_holm, market, _id(of_holm), era="first")


def test_an_era_that_was_corrected_is_not_decided_beside_it(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), era="first")
    with pytest.raises(DecisionError, match=r"take that one back first: `pairband undo \w{8}`"):
        rule(of_holm, market, Decision("era", _id(of_holm), value="second"), ruled_at=RULED_AT)


def test_a_correction_that_a_changed_market_file_makes_unreadable_is_said_and_does_not_count(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    _correct(of_holm, market, _id(of_holm), venue="Lantern Dock")
    without = market.model_copy(
        update={"venues": tuple(one for one in market.venues if one.currency != "GBP")}
    )
    [file] = ingest(of_holm, without, [tmp_path / "holm_2021.csv"]).files
    assert any("does not count: venue 'Lantern Dock'" in note for note in file.notes)
    assert (_sale(of_holm)["venue"], run_checks(of_holm)) == ("Holm Sound Auctions", ())


def test_an_ingest_says_how_many_rows_the_owner_has_removed(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    _remove(of_holm, market, _id(of_holm))
    of_holm.connection.execute("UPDATE source_files SET reading_digest = 'another'").fetchall()
    [file] = ingest(of_holm, market, [tmp_path / "holm_2021.csv"]).files
    assert "1 row that is removed by your decisions does not count" in file.notes


def test_a_removed_record_is_no_sale(of_holm: Ledger, market: Market) -> None:
    _remove(of_holm, market, _id(of_holm))
    assert sales_of(of_holm)["title"].to_list() == ["Plover Lo"]
    assert run_checks(of_holm) == ()


def test_a_removed_record_stays_removed_when_its_file_is_read_again(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    _remove(of_holm, market, _id(of_holm))
    of_holm.connection.execute("UPDATE source_files SET reading_digest = 'another'").fetchall()
    ingest(of_holm, market, [tmp_path / "holm_2021.csv"])
    assert sales_of(of_holm)["title"].to_list() == ["Plover Lo"]


def test_a_sale_that_another_file_records_stays_when_a_file_is_removed(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(of_holm, market, [write_holm(tmp_path, PLOVER, name="holm_season.csv")])
    remove_file(of_holm, market, "holm_2021.csv", note="", ruled_at=RULED_AT, as_of=AS_OF)
    assert sales_of(of_holm)["title"].to_list() == ["Plover Lo"]


def test_a_later_version_of_a_file_that_was_removed_counts_and_says_so(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    remove_file(of_holm, market, "holm_2021.csv", note="twice in it", ruled_at=RULED_AT, as_of=AS_OF)
    later = write_holm(tmp_path, FIRST_OF_TITLE.replace("600", "610"), PLOVER)
    [file] = ingest(of_holm, market, [later]).files
    assert sales_of(of_holm).height == 2
    assert "you removed an earlier holm_2021.csv on 2026-07-01: twice in it; this version" in " ".join(
        file.notes
    )


def test_a_file_that_was_removed_stays_removed_when_it_is_read_again_as_it_was(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    as_it_was = write_holm(tmp_path, FIRST_OF_TITLE, PLOVER)
    remove_file(of_holm, market, "holm_2021.csv", note="", ruled_at=RULED_AT, as_of=AS_OF)
    ingest(of_holm, market, [as_it_was])
    assert sales_of(of_holm).is_empty()


def test_a_later_version_of_a_file_is_not_removed_by_decisions_that_are_brought_in(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    remove_file(of_holm, market, "holm_2021.csv", note="", ruled_at=RULED_AT, as_of=AS_OF)
    kept = decision_rows(of_holm)
    ingest(of_holm, market, [write_holm(tmp_path, FIRST_OF_TITLE.replace("600", "610"), PLOVER)])
    found = bring_in(of_holm, market, kept, as_of=AS_OF)
    assert [one.why for one in found.lost] == ["holm_2021.csv is not there as it was"]


def test_a_removed_record_that_is_asked_for_is_said_to_be_removed_with_the_way_back(
    of_holm: Ledger, market: Market
) -> None:
    removed = _id(of_holm)
    remove(of_holm, market, [removed], note="a replica", ruled_at=RULED_AT, as_of=AS_OF)
    decision = decisions(of_holm)["decision_id"].item()
    with pytest.raises(DecisionError, match="was removed by itself on 2026-07-01: a replica") as refused:
        find_record(of_holm, removed[:8])
    assert f"pairband undo {decision[:8]}" in refused.value.remedy


def test_a_record_of_a_removed_file_is_said_to_be_removed_with_its_file(
    of_holm: Ledger, market: Market
) -> None:
    removed = _id(of_holm)
    remove_file(of_holm, market, "holm_2021.csv", note="", ruled_at=RULED_AT, as_of=AS_OF)
    with pytest.raises(
        DecisionError, match=r"removed with all of holm_2021.csv on 2026-07-01, without a reason"
    ):
        find_record(of_holm, removed)


def test_a_file_that_was_never_read_cannot_be_removed(of_holm: Ledger, market: Market) -> None:
    with pytest.raises(UnknownName, match=r"did you mean 'holm_2021.csv'"):
        remove_file(of_holm, market, "holm_2012.csv", note="", ruled_at=RULED_AT, as_of=AS_OF)


def test_a_sale_added_by_hand_is_priced_as_one_of_an_export(ledger: Ledger, market: Market) -> None:
    _add(ledger, market)
    sale = _sale(ledger)
    assert (sale["status"], sale["currency"], sale["price_basis"]) == ("sold", "GBP", "all-in")
    assert sale["price_paid"] > 240
    assert run_checks(ledger) == ()


def test_a_sale_added_at_the_hammer_gets_the_premium(ledger: Ledger, market: Market) -> None:
    _add(ledger, market, venue="Holm Sound Auctions", price_native="500", price_basis="hammer")
    assert _sale(ledger)["price_paid"] == 650


def test_two_equal_sales_added_by_hand_are_two(ledger: Ledger, market: Market) -> None:
    _add(ledger, market)
    _add(ledger, market)
    assert sales_of(ledger).height == 2


def test_a_sale_added_by_hand_can_be_corrected(ledger: Ledger, market: Market) -> None:
    _add(ledger, market)
    _correct(ledger, market, _id(ledger), price_native="250", grade="8")
    sale = _sale(ledger)
    assert (sale["price_native"], sale["grade"], sale["grade_origin"]) == (250, 8.0, "corrected")


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"venue": ""}, "say where: venue="),
        ({"venue": "Nowhere"}, "venue 'Nowhere'"),
        ({"sold_on": ""}, "sold, but on no day"),
        ({"price_native": ""}, "a sale needs its price"),
        ({"price_native": "-5"}, "say status=withdrawn"),
        ({"size_label": "banana"}, "size_label 'banana'"),
        ({"silhouette": "Gannet Hy"}, "did you mean 'Gannet Hi'"),
        ({"price_basis": "net worth"}, "did you mean|known: "),
    ],
)
def test_a_sale_that_cannot_be_read_is_not_added(
    ledger: Ledger, market: Market, said: dict[str, str], words: str
) -> None:
    with pytest.raises(CorrectionError, match=words):
        _add(ledger, market, **said)
    assert sales_of(ledger).height == 0


def test_a_sale_that_an_export_records_too_counts_once(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    ingest(ledger, market, [write_lantern(tmp_path, ON_LANTERN)])
    said = {"stock_ref": "TP-1", "sold_on": "2021-03-04", "price_native": "100"}
    assert _add(ledger, market, **said).rows == 2
    assert sales_of(ledger).height == 1


def test_what_was_added_by_hand_is_there_after_every_ingest(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    _add(ledger, market)
    ingest(ledger, market, [write_holm(tmp_path, PLOVER)])
    assert sorted(sales_of(ledger)["silhouette"]) == ["Gannet Hi", "Plover Lo"]
    assert run_checks(ledger) == ()


def test_undo_takes_back_all_that_was_decided_together(of_holm: Ledger, market: Market) -> None:
    before = _dump(of_holm)
    _correct(of_holm, market, _id(of_holm), grade="8", price_native="500")
    taken = undo(of_holm, market, None, as_of=AS_OF)
    assert sorted(taken["field"]) == ["grade", "price_native"]
    assert _dump(of_holm) == before


def test_one_field_of_a_correction_can_be_taken_back(of_holm: Ledger, market: Market) -> None:
    _correct(of_holm, market, _id(of_holm), grade="8", price_native="500")
    [grade] = decisions(of_holm).filter(field="grade")["decision_id"].to_list()
    undo(of_holm, market, grade[:8], as_of=AS_OF)
    assert (_sale(of_holm)["grade"], _sale(of_holm)["price_native"]) == (None, 500)


def test_undo_brings_the_correction_before_it_back(of_holm: Ledger, market: Market) -> None:
    for grade in ("8", "7"):
        _correct(of_holm, market, _id(of_holm), grade=grade)
    undo(of_holm, market, None, as_of=AS_OF)
    assert _sale(of_holm)["grade"] == 8.0


def test_any_decision_can_be_taken_back(of_holm: Ledger, market: Market) -> None:
    before = _dump(of_holm)
    rule(of_holm, market, Decision("hold", _id(of_holm)), ruled_at=RULED_AT)
    undo(of_holm, market, None, as_of=AS_OF)
    assert _dump(of_holm) == before


def test_without_a_decision_there_is_nothing_to_take_back(of_holm: Ledger, market: Market) -> None:
    with pytest.raises(DecisionError, match="no decision to take back"):
        undo(of_holm, market, None, as_of=AS_OF)


def test_a_decision_that_is_not_kept_cannot_be_taken_back(of_holm: Ledger, market: Market) -> None:
    with pytest.raises(UnknownName, match="no decision is called 'ffff'"):
        undo(of_holm, market, "ffff", as_of=AS_OF)


def test_the_first_signs_of_an_id_name_its_record(of_holm: Ledger) -> None:
    record = _id(of_holm)
    assert find_record(of_holm, record[:6].upper()) == (record, record)


def test_signs_that_several_records_begin_with_are_refused_with_those(
    of_holm: Ledger, market: Market, tmp_path: Path
) -> None:
    rows = [f"{lot};Plover Lo;05.03.2021;80;zugeschlagen;42;" for lot in range(3, 40)]
    ingest(of_holm, market, [write_holm(tmp_path, *rows, name="holm_more.csv")])
    with pytest.raises(DecisionError, match=r"records begin with '.':\n  \w{6,}  2021-03-05  Plover Lo"):
        find_record(of_holm, _id(of_holm, 5)[:1])


def test_a_short_id_is_as_long_as_it_must_be(of_holm: Ledger) -> None:
    record = _id(of_holm)
    near = record[:9] + ("0" if record[9] != "0" else "1") + record[10:]
    assert short_ids(of_holm, [record, near]) == {record: record[:6], near: near[:10]}


def _dump(ledger: Ledger) -> dict[str, list[str]]:
    """Return every table of a ledger, row by row."""
    tables = ledger.connection.sql(
        "SELECT table_name FROM duckdb_tables() WHERE NOT internal AND NOT temporary"
    ).fetchall()
    return {name: sorted(map(repr, ledger.connection.sql(f"FROM {name}").fetchall())) for (name,) in tables}


def test_rows_are_known_by_the_same_keys_once_their_sales_are_derived(
    ledger: Ledger, market: Market, tmp_path: Path
) -> None:
    of_one_number = [f"5;{title};04.03.2021;{price};zugeschlagen;43;" for title, price in LOTS_OF_ONE_NUMBER]
    without_number = [";Plover Lo, pair of a lot;05.03.2021;80;zugeschlagen;42;"] * 3
    plain = "9;Gannet Hi;06.03.2021;90;zugeschlagen;41;"
    ingest(ledger, market, [write_holm(tmp_path, *of_one_number, *without_number, plain)])
    ids = sales_of(ledger).sort("title", "record_id")["record_id"].to_list()
    for removed in (ids[0], ids[-1]):
        _remove(ledger, market, removed)
        found = {}
        for prepare in (key_rows, find_keys):
            prepare(ledger)
            found[prepare] = ledger.connection.sql(
                "SELECT row_id, row_key, row_key <> node FROM keyed_rows ORDER BY row_id"
            ).fetchall()
        assert found[find_keys] == found[key_rows]
    assert [is_other for _, _, is_other in found[key_rows]].count(True) == len(LOTS_OF_ONE_NUMBER) + 2
