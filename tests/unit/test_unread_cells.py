"""A cell of a valued file that could not be read is said beside the value."""

from dataclasses import replace
from pathlib import Path

import polars as pl

from pipeline.answers.appraisal.run import pairs_of_file
from pipeline.answers.appraisal.tables import appraisals_sheet
from pipeline.answers.consignment.tables import consignments_sheet
from pipeline.answers.lots.run import unread_cells
from pipeline.answers.restoration.cautions import work_cautions
from pipeline.answers.restoration.restoration import EFFECTS, weigh_evidence
from pipeline.ingest.lots import read_lots
from pipeline.market.pair import Pair, Unread
from pipeline.market.subject import Description
from reports.consignment.page import consignment_page
from reports.facts import pair_facts
from sample_data import scenario
from tests.appraisals import common_pair
from tests.restorations import demo_market_fitted, resold
from tests.upcoming import VALUED_ON, demo_consignment, upcoming_records, valued

HEADINGS = (
    "stock,bought,cost,title,maker,silhouette,colourway,era,size,grade,box,tags,parts,overlay,lasting,defects,"
    "treatments,stamp,notes,work,ask,currency,where"
)
STOCK = (
    "{number},2026-06-05,75.18,Dunlin Moss Rope,Tarnfold,Dunlin,Moss Rope,second,{size},{grade},none,none,"
    ",,,,,,,,,EUR,"
)


def _stock(folder: Path, size: str = "UK 10", grade: str = "5.5") -> Path:
    path = folder / "stock.csv"
    rows = (
        STOCK.format(number="T-1", size=size, grade=grade),
        STOCK.format(number="T-2", size="UK 9", grade="8"),
    )
    path.write_text("\n".join([HEADINGS, *rows]) + "\n", encoding="utf-8")
    return path


def _first(folder: Path, described: Description | None = None, **cells: str) -> Pair:
    path = _stock(folder, **cells)
    return pairs_of_file(path, scenario.market(), row=1, as_of=VALUED_ON, described=described)[0]


def test_a_grade_that_could_not_be_read_is_said_with_what_counts_in_its_place(tmp_path: Path) -> None:
    [cell] = _first(tmp_path, grade="superb").unread
    assert (cell.attribute, cell.words.startswith("Grade 'superb' could not be read")) == ("grade", True)


def test_what_counts_in_the_place_of_an_unread_cell_is_said(tmp_path: Path) -> None:
    [cell] = _first(tmp_path, grade="superb").unread
    assert cell.words.endswith("valued with grade unknown.")


def test_a_size_that_no_system_explains_is_said(tmp_path: Path) -> None:
    [cell] = _first(tmp_path, size="wide fitting").unread
    assert cell.words == (
        "Size 'wide fitting' could not be read (no foot length can be read in it): valued with size unknown."
    )


def test_a_pair_of_which_every_cell_was_read_says_nothing(tmp_path: Path) -> None:
    assert _first(tmp_path).unread == ()


def test_a_grade_that_is_given_takes_the_place_of_one_that_could_not_be_read(tmp_path: Path) -> None:
    assert _first(tmp_path, Description(grade="8"), grade="superb").unread == ()


def test_an_unread_size_is_not_shown_as_if_it_had_been_used(tmp_path: Path) -> None:
    facts = dict(pair_facts(_first(tmp_path, size="wide fitting")))
    assert facts["Size"].endswith("wide fitting, not read, valued as unknown")


UNREAD = Unread("size", "Size 'wide' could not be read (why): valued with size unknown.")


def test_an_appraisal_says_what_was_not_read_first_of_all_cautions() -> None:
    pair = replace(demo_consignment().pair, unread=(UNREAD,))
    assert demo_consignment(pair).cautions[0] == UNREAD.words


def test_the_list_of_values_names_what_was_not_read_of_each_pair() -> None:
    whole = common_pair()
    part = replace(whole, pair=replace(whole.pair, unread=(UNREAD,)))
    pairs = appraisals_sheet((whole, part)).table("pairs")
    assert pairs.texts_of("unread") == ["–", "size"]


def test_the_list_of_values_has_no_such_column_where_all_was_read() -> None:
    pairs = appraisals_sheet((common_pair(), common_pair())).table("pairs")
    assert "unread" not in [column.key for column in pairs.columns]


def test_the_list_of_consignments_names_what_was_not_read_of_each_pair() -> None:
    whole = demo_consignment()
    part = replace(whole, pair=replace(whole.pair, unread=(UNREAD,)))
    assert consignments_sheet((whole, part)).table("pairs").texts_of("unread") == ["–", "size"]


def test_the_consignors_sheet_does_not_quote_the_owners_file() -> None:
    found = demo_consignment(replace(demo_consignment().pair, unread=(UNREAD,)))
    assert UNREAD.words not in consignment_page(found, business="Tidewrack Pairs").replace("&#39;", "'")


def test_a_plan_of_work_says_of_which_pair_a_cell_was_not_read() -> None:
    stock = [replace(demo_consignment().pair, label="T-1", unread=(UNREAD,))]
    evidence = weigh_evidence(demo_market_fitted(), resold(), scenario.market())
    assert f"T-1: {UNREAD.words}" in work_cautions(evidence, pl.DataFrame(schema=EFFECTS), stock)


def test_a_lot_with_an_unread_cell_is_flagged() -> None:
    lots = valued(upcoming_records()).filter(pl.col("flags").list.contains("not all cells read"))
    assert lots["row_number"].to_list() == [40]


def test_a_list_of_lots_says_which_cell_of_which_row_was_not_read() -> None:
    [said, _] = unread_cells(upcoming_records())
    assert said.startswith("Row 40: Colourway 'Storm Grey' could not be read")


def test_a_file_without_an_unread_cell_has_nothing_to_say_of_its_lots(tmp_path: Path) -> None:
    records, *_ = read_lots(_stock(tmp_path), scenario.market(), as_of=VALUED_ON)
    assert unread_cells(records) == ()
