"""Any answer's sheet in the terminal: wrapped to its width, with numbers, paths and commands in one piece."""

from dataclasses import replace

import pytest

from pipeline.answers.care.doctor import Health, Problem
from pipeline.answers.care.tables import health_sheet
from pipeline.answers.market_file.tables import columns_sheet
from pipeline.answers.sheet import Brief, Detail, Sheet, count, table, words
from pipeline.schema import describe_columns
from pipeline.terminal.console import OUT
from pipeline.terminal.sheet import MORE, show_sheet
from pipeline.terminal.wrapping import wrap
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


@pytest.mark.parametrize("width", [60, 80, 120, 200])
def test_every_heading_stands_whole_or_is_named_as_too_wide(
    width: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(OUT, "_width", width)
    headings = (
        "Treatment",
        "Before and after",
        "Price ÷ value",
        "They agree",
        "pairband is nearer by, points",
    )
    columns = [words(str(at), heading) for at, heading in enumerate(headings)]
    columns += [count(f"n{at}", heading) for at, heading in enumerate(headings)]
    rows = [{column.key: 12 if column.number else "re-laced and dyed" for column in columns}]
    shown = _lines(Sheet("Title", tables=(table("t", "A table", columns, rows),)), capsys)
    above, below = (" ".join(part) for part in (shown[:-2], shown[-2:]))

    assert all(
        heading in below or all(above.count(word) > 0 for word in heading.split()) for heading in headings
    )
    assert max(map(len, shown)) <= width


@pytest.mark.parametrize(
    "whole",
    ["+€100", "5 Sept 2020", "10 %", "±€12", "€536 – €930", "UK 9", "41 2/3", "October 2017", "8 in 10"],
)
@pytest.mark.parametrize("width", range(24, 34))
def test_what_belongs_together_is_never_parted(whole: str, width: int) -> None:
    assert any(whole in line for line in wrap(f"It was sold by them for {whole} in all.", width))


def test_a_long_file_name_is_broken_behind_a_sign() -> None:
    assert wrap("lantern_dock_2017_2021.csv", 16) == ["lantern_dock_", "2017_2021.csv"]


def test_a_text_in_wide_letters_is_broken_by_their_width() -> None:
    assert wrap("靴" * 10, 8) == ["靴" * 4, "靴" * 4, "靴" * 2]


def test_a_title_that_is_cut_ends_in_an_ellipsis(capsys: pytest.CaptureFixture[str]) -> None:
    titles = table("t", "", (words("a", "A"), count("n", "N")), [{"a": PROSE, "n": 1}]).marked(cut=("a",))
    show_sheet(Sheet("Title", tables=(titles,)), limits=False, details=False)
    [row] = [line for line in capsys.readouterr().out.splitlines() if line.startswith("A sentence")]

    assert row.split("…")[1].split() == ["1"]


def test_a_title_is_whole_with_details(capsys: pytest.CaptureFixture[str]) -> None:
    titles = table("t", "", (words("a", "A"),), [{"a": PROSE}]).marked(cut=("a",))
    show_sheet(Sheet("Title", tables=(titles,)), limits=False, details=True)

    assert PROSE in " ".join(capsys.readouterr().out.split())


def test_details_and_what_stands_in_their_place_are_never_shown_together(
    capsys: pytest.CaptureFixture[str],
) -> None:
    sheet = Sheet("Title", sentences=("Answer.", Detail("All of it."), Brief("In short.")))
    shown = []
    for details in (False, True):
        show_sheet(sheet, limits=False, details=details)
        shown.append(capsys.readouterr().out.split("\n")[2:-1])

    assert shown == [["Answer.", "In short.", MORE], ["Answer.", "All of it."]]


def test_details_show_every_row(capsys: pytest.CaptureFixture[str]) -> None:
    rows = [{"n": number} for number in range(50)]
    sheet = Sheet("Title", tables=(replace(table("t", "", (count("n", "N"),), rows), first=3),))
    show_sheet(sheet, limits=False, details=False)
    brief = capsys.readouterr().out.splitlines()
    show_sheet(sheet, limits=False, details=True)
    whole = capsys.readouterr().out.splitlines()

    assert (brief[-2:], whole[-1].strip()) == (["… and 47 more.", MORE], "49")
