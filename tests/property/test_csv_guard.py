"""CSV that leaves is safe whatever a spreadsheet splits it at, and says what it said."""

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.csv_guard import guarded_csv

SIGNS = "=+-@|%＝＋－＠"
PIECES = st.sampled_from(
    [*SIGNS, *',;\t\n\r "', "'", "a", "1", "\x00", "\x1b", "\x9b", "\ufeff", "\u200b", "é"]
)
TEXTS = st.text(PIECES, max_size=12)


def split(line_by_line: str, separator: str, *, quotes: bool) -> list[str]:
    """Return the cells that a spreadsheet makes of a CSV: quotes count at the start of a cell, if they count at all."""
    cells, cell, at, quoted = [], "", 0, False
    while at < len(line_by_line):
        sign = line_by_line[at]
        if quoted and line_by_line[at : at + 2] == '""':
            cell, at = cell + '"', at + 1
        elif quoted and sign == '"':
            quoted = False
        elif quotes and not quoted and not cell and sign == '"':
            quoted = True
        elif not quoted and sign in (separator, "\n", "\r"):
            cells, cell = [*cells, cell], ""
        else:
            cell += sign
        at += 1
    return [*cells, cell]


def is_formula(cell: str) -> bool:
    """Whether a spreadsheet may take a cell for a formula: what it passes over aside, it begins with a sign."""
    shown = cell.lstrip(' \t\r\n\x00\x1b\x9b\ufeff\u200b"')
    return shown[:1] in tuple(SIGNS)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("quotes", [True, False])
@settings(max_examples=300)
@given(rows=st.lists(st.tuples(TEXTS, TEXTS), min_size=1, max_size=3), heading=TEXTS)
def test_no_cell_is_a_formula_whatever_it_is_split_at(
    rows: list[tuple[str, str]], heading: str, separator: str, quotes: bool
) -> None:
    table = pl.DataFrame(rows, schema=[heading, f"{heading}2"], orient="row")
    assert [cell for cell in split(guarded_csv(table), separator, quotes=quotes) if is_formula(cell)] == []


@settings(max_examples=300)
@given(text=TEXTS)
def test_a_text_comes_back_but_for_apostrophes_and_controls_written_out(text: str) -> None:
    back = split(guarded_csv(pl.DataFrame({"title": [text]})).removeprefix('"title"\n'), ",", quotes=True)[0]
    for control in "\x00\x1b\x9b":
        back = back.replace(f"\\x{ord(control):02x}", control)
    assert back.replace("'", "") == text.replace("'", "")


@given(text=st.text(st.sampled_from("abcé 12.'/:()[]€!?"), min_size=1, max_size=12))
def test_a_text_without_signs_and_separators_is_as_it_was(text: str) -> None:
    assert guarded_csv(pl.DataFrame({"title": [text]})) == f'"title"\n"{text}"\n'


@settings(max_examples=300)
@given(text=st.text(max_size=20))
def test_no_text_reaches_a_terminal_as_a_command(text: str) -> None:
    printed = guarded_csv(pl.DataFrame({"title": [text]}))
    controls = [chr(point) for point in (*range(0x20), *range(0x7F, 0xA0)) if chr(point) not in "\t\r\n"]
    assert [sign for sign in printed if sign in controls] == []


def test_numbers_and_nothing_stay_as_they_are() -> None:
    rows = pl.DataFrame({"title": ["a", None], "price": [-1.5, None]})
    assert guarded_csv(rows) == '"title","price"\n"a",-1.5\n,\n'


def test_a_table_without_rows_has_its_heading() -> None:
    assert guarded_csv(pl.DataFrame({"=x": ["a"]}).clear()) == '"\'=x"\n'
