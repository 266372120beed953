"""The invented exports and their truth files agree, and the scorer counts what it says."""

from dataclasses import replace

import pytest

from tests.new_exports.reading import raw_rows
from tests.new_exports.score import (
    HALVES,
    Truth,
    edits_of,
    first_size,
    line_of,
    marks_of,
    score,
    totals,
    truths_of,
)

TRUTHS = [truth for half in HALVES for truth in truths_of(half)]
each_truth = pytest.mark.parametrize("truth", TRUTHS, ids=[truth.export.stem for truth in TRUTHS])


def _stands(name: str, headings: list[str]) -> bool:
    """Say whether a heading is there, or in JSON the field that it is a part of."""
    return any(name == heading or name.startswith(f"{heading}.") for heading in headings)


def _without(truth: Truth, key: str) -> dict[str, object]:
    return {name: value for name, value in truth.ideal.items() if name != key}


def test_each_part_has_its_number_of_exports() -> None:
    assert [len(truths_of(half)) for half in HALVES] == [17, 17, 20, 20, 10, 20, 12, 16]


@each_truth
def test_an_export_has_the_headings_that_its_truth_file_lists(truth: Truth) -> None:
    headings, _ = raw_rows(truth.export, truth.said)

    assert headings == truth.said["headings"]


@each_truth
def test_the_ideal_map_names_headings_of_the_export(truth: Truth) -> None:
    said = truth.ideal["columns"].values()
    named = [name for one in said for name in ([one] if isinstance(one, str) else one)]
    headings = truth.said["headings"]

    assert [name for name in named if not _stands(name, headings)] == []


@each_truth
def test_a_sample_row_stands_where_its_truth_file_says(truth: Truth) -> None:
    headings, rows = raw_rows(truth.export, truth.said)
    title = truth.ideal["columns"]["title"]
    at = headings.index(title if isinstance(title, str) else title[0])

    assert [rows[row["row"] - 1][at] for row in truth.rows] == [row["title"] for row in truth.rows]


@each_truth
def test_every_row_of_an_export_is_counted_as_a_sale_or_with_the_reason_why_not(truth: Truth) -> None:
    _, rows = raw_rows(truth.export, truth.said)
    counts = truth.said["counts"]
    filled = [row for row in rows if any(cell.strip() for cell in row)]

    assert counts["sales_of_one_pair"] + sum(counts["no_sale_of_one_pair"].values()) == len(filled)


@each_truth
def test_the_ideal_map_needs_no_edit(truth: Truth) -> None:
    assert truth.mapped_market.maps
    assert edits_of(truth, truth.ideal) == []


@each_truth
def test_the_ideal_map_has_price_day_status_and_ask_right(truth: Truth) -> None:
    marks = marks_of(truth, truth.ideal)

    assert [marks[name] for name in ("price", "basis", "day", "order", "status", "currency", "ask")] == [
        True
    ] * 7


def test_a_price_from_another_column_is_one_edit_and_a_wrong_mark() -> None:
    [truth] = [each for each in TRUTHS if each.export.stem == "brackmoor_ergebnisliste"]
    wrong = {**truth.ideal, "columns": {**truth.ideal["columns"], "price_native": "Endbetrag"}}

    assert (len(edits_of(truth, wrong)), marks_of(truth, wrong)["price"]) == (1, False)


def test_the_day_of_sale_may_be_proposed_as_the_day_on_which_the_offer_ended() -> None:
    [truth] = [each for each in TRUTHS if each.export.stem == "tienda_calvera_2025"]
    columns = {name: heading for name, heading in truth.ideal["columns"].items() if name != "sold_on"}

    assert edits_of(truth, {**truth.ideal, "columns": {**columns, "closed_on": "Fecha"}}) == []


def test_a_key_that_is_left_open_is_one_edit() -> None:
    [truth] = [each for each in TRUTHS if each.export.stem == "brackmoor_ergebnisliste"]

    assert len(edits_of(truth, _without(truth, "price_basis"))) == 1


def test_a_status_word_that_is_left_open_is_one_edit() -> None:
    [truth] = [each for each in TRUTHS if each.export.stem == "brackmoor_ergebnisliste"]
    words = {word: meaning for word, meaning in truth.ideal["status_words"].items() if word != "Rückgang"}

    assert len(edits_of(truth, {**truth.ideal, "status_words": words})) == 1


@pytest.mark.parametrize("label", ["42,5", "EU 42.5", "42½", "42.5 / UK 8.5", "EUR 42,5 (27,5 cm)"])
def test_a_size_is_compared_by_its_first_number(label: str) -> None:
    assert first_size(label) == 42.5


def test_the_scorer_reads_the_rows_of_an_own_sheet_as_its_truth_says() -> None:
    [truth] = [each for each in TRUTHS if each.export.stem == "own_sheet"]
    found = score(truth)

    assert (found.rows_right, found.sales_read, found.fault) == (10, found.sales, "")


def test_the_scorer_counts_the_files_of_the_first_half_in_lines_and_totals() -> None:
    scores = [score(truth) for truth in truths_of("first")[:4]]

    assert [line_of(one).split()[0] for one in scores] == [one.name for one in scores]
    assert totals(scores)[0].split() == [
        "price",
        str(sum(bool(one.marks["price"]) for one in scores)),
        "of",
        "4",
    ]


def test_the_totals_add_up_the_edits_of_all_files() -> None:
    [truth] = [each for each in TRUTHS if each.export.stem == "own_sheet"]
    one = replace(score(truth), edits=3)

    assert "edits         6, 3.0 a file" in totals([one, one])
