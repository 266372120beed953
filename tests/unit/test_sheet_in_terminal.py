"""Any answer's sheet in the terminal: wrapped to its width, with numbers, paths and commands in one piece."""

import pytest

from pipeline.answers.care.doctor import Health, Problem
from pipeline.answers.care.tables import health_sheet
from pipeline.answers.market_file.tables import columns_sheet
from pipeline.answers.sheet import Sheet, count, table, words
from pipeline.schema import describe_columns
from pipeline.terminal.sheet import show_sheet
from tests.unit.test_doctor import MARKET_FILE

PROSE = "A sentence that a dealer reads, and that goes on for much longer than eighty signs, as sentences do."


def _lines(sheet: Sheet, capsys: pytest.CaptureFixture[str]) -> list[str]:
    show_sheet(sheet, limits=False, most_rows=100)
    return capsys.readouterr().out.splitlines()


def test_prose_is_wrapped_to_the_width(capsys: pytest.CaptureFixture[str]) -> None:
    assert max(map(len, _lines(Sheet("Title", sentences=(PROSE,)), capsys))) <= 80


def test_a_command_in_a_sentence_is_not_broken(capsys: pytest.CaptureFixture[str]) -> None:
    command = f"`pairband recover '{'a b ' * 12}'`"

    assert command in _lines(Sheet("Title", sentences=(f"{PROSE} {command}",)), capsys)


def test_a_long_path_is_not_broken(capsys: pytest.CaptureFixture[str]) -> None:
    path = f"/media/{'folder-of-copies/' * 6}stick.duckdb"

    assert path in _lines(Sheet("Title", warnings=(f"damaged: {path}",)), capsys)[-1]


def test_a_number_is_not_broken_by_a_long_text_beside_it(capsys: pytest.CaptureFixture[str]) -> None:
    rows = [{"sale": PROSE, "number": 1_234_567}]
    sheet = Sheet("Title", tables=(table("t", "", (words("sale", "Sale"), count("number", "Number")), rows),))

    assert any(line.rstrip().endswith("  1,234,567") for line in _lines(sheet, capsys))


def test_a_column_that_does_not_fit_is_named_and_not_cut(capsys: pytest.CaptureFixture[str]) -> None:
    columns = [count(str(number), f"Column{number}") for number in range(12)]
    rows = [{str(number): 1_234_567 for number in range(12)}]
    shown = _lines(Sheet("Title", tables=(table("t", "A table", columns, rows),)), capsys)

    assert shown[-2].split() == ["1,234,567"] * 7
    assert shown[-1] == "Too wide for this window: Column7, Column8, Column9, Column10, Column11."


def test_the_id_of_a_record_is_not_broken(capsys: pytest.CaptureFixture[str]) -> None:
    columns = [words(key, key.capitalize()) for key in ("id", "sale", "why", "note")]
    rows = [{"id": "19ae245161a4da8c", "sale": PROSE, "why": PROSE, "note": PROSE}]

    assert any(
        line.startswith("19ae245161a4da8c  ")
        for line in _lines(Sheet("Title", tables=(table("t", "", columns, rows),)), capsys)
    )


def test_the_note_of_a_table_without_rows_is_still_printed(capsys: pytest.CaptureFixture[str]) -> None:
    sheet = Sheet("Title", tables=(table("t", "A table", (words("a", "A"),), [], note="Why it is empty."),))

    assert _lines(sheet, capsys)[1:] == ["Title", "Why it is empty."]


def test_the_columns_of_a_record_fit_on_two_screens(capsys: pytest.CaptureFixture[str]) -> None:
    assert len(_lines(columns_sheet(describe_columns()), capsys)) < 80


def test_the_doctor_gives_its_advice_first_and_the_versions_last(capsys: pytest.CaptureFixture[str]) -> None:
    problem = Problem("no copy is known", "make one.")
    health = Health({"pairband": "9.9"}, MARKET_FILE, 1, 1, 1, 0, None, None, (problem,))
    shown = _lines(health_sheet(health), capsys)

    assert (shown[1:3], shown[-1]) == (["1 thing to fix", "! no copy is known: make one."], "pairband 9.9")
