"""An edit of the market file's text keeps headings, comments and order; what is wrong is said at its field."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.desk.market_file.difference import difference, with_endings_of
from pipeline.desk.market_file.edit import Change, edited
from pipeline.desk.market_file.faults import faults_in
from pipeline.errors import MarketFileError

SAMPLE = (Path(__file__).parents[2] / "sample_data" / "market.toml").read_text(encoding="utf-8")
SHORT = """\
# mine
base_currency = "EUR" # for now

# ---- eras ----

[[eras]]
name = "first"
run = "original" # never sure
first_year = 1984

# the copies
[[eras]]
name = "copies"
run = "re-issue"
first_year = 1994
phrases = [
  "copy", # of a friend
  "re-issue"
]

# ---- venues ----

[[venues]]
name = "Counter"
kind = "shop"
currency = "EUR"
"""


def test_a_value_is_changed_where_it_stands_with_the_comment_beside_it() -> None:
    after = edited(SHORT, Change("put", ("base_currency",), "GBP"))
    assert after == SHORT.replace('"EUR" # for now', '"GBP" # for now')


def test_the_heading_of_the_next_section_stays_when_the_last_era_goes() -> None:
    after = edited(SHORT, Change("remove", ("eras", 1)))
    assert "# ---- venues ----\n\n[[venues]]" in after


def test_the_comment_right_above_an_era_goes_with_it() -> None:
    assert "# the copies" not in edited(SHORT, Change("remove", ("eras", 1)))


def test_the_heading_above_the_first_era_stays_when_it_goes() -> None:
    text = SHORT.replace("# ---- eras ----\n\n", "# ---- eras ----\n")
    assert "# ---- eras ----\n" in edited(text, Change("remove", ("eras", 0)))


def test_a_new_era_stands_above_the_heading_of_the_next_section() -> None:
    after = edited(SHORT, Change("add", ("eras",), {"name": "late", "run": "re-issue", "first_year": 2008}))
    assert after.index('name = "late"') < after.index("# ---- venues ----")


def test_a_new_key_stands_after_those_of_its_table() -> None:
    after = edited(SHORT, Change("put", ("eras", 0, "last_year"), 1986))
    assert "first_year = 1984\nlast_year = 1986\n\n# the copies" in after


def test_a_word_is_added_on_a_line_of_its_own_where_each_has_one() -> None:
    words = ["copy", "re-issue", "retro"]
    after = edited(SHORT, Change("put", ("eras", 1, "phrases"), words))
    assert '  "copy", # of a friend\n  "re-issue",\n  "retro"\n]' in after


def test_a_word_taken_out_takes_its_line() -> None:
    after = edited(SHORT, Change("put", ("eras", 1, "phrases"), ["re-issue"]))
    assert 'phrases = [\n  "re-issue"\n]' in after


def test_an_era_moved_up_takes_the_comment_above_it_along() -> None:
    after = edited(SHORT, Change("move up", ("eras", 1)))
    assert after.index('# the copies\n[[eras]]\nname = "copies"') < after.index('name = "first"')


def test_a_venue_gets_its_fees_under_headers_of_their_own() -> None:
    fees = {"party": "buyer", "starts_on": date(2020, 1, 1), "tiers": [{"rate": Decimal("0.2")}]}
    after = edited(SHORT, Change("add", ("venues", 0, "fees"), fees))
    assert after.endswith(
        '\n[[venues.fees]]\nparty = "buyer"\nstarts_on = 2020-01-01\ntiers = [{ rate = 0.2 }]\n'
    )


def test_the_last_fees_of_a_venue_can_be_removed() -> None:
    fees = {"party": "buyer", "starts_on": date(2020, 1, 1), "tiers": [{"rate": Decimal("0.2")}]}
    with_fees = edited(SHORT, Change("add", ("venues", 0, "fees"), fees))
    assert edited(with_fees, Change("remove", ("venues", 0, "fees", 0))).rstrip() == SHORT.rstrip()


def test_a_table_that_the_file_lacks_is_written_at_its_end() -> None:
    assert edited(SHORT, Change("put", ("sizes",), {"usual": "UK"})).endswith('\n\n[sizes]\nusual = "UK"\n')


def test_a_rate_written_in_another_way_is_no_change() -> None:
    path = ("venues", 0, "fees", 1, "tax_rate")
    assert edited(SAMPLE, Change("put", path, Decimal("0.2"))) == SAMPLE


def test_terms_in_paragraphs_stay_paragraphs() -> None:
    after = edited(SHORT, Change("put", ("business",), {"terms": 'One "pair".\n\nTwo.\n'}))
    assert 'terms = """\nOne "pair".\n\nTwo.\n"""' in after


def test_what_stands_in_several_places_is_left_to_the_text() -> None:
    scattered = SHORT + '\n[sizes]\nusual = "UK"\n\n[[venues.increments]]\nstep = 5\n'
    with pytest.raises(MarketFileError, match="stands in several places"):
        edited(scattered, Change("remove", ("venues", 0)))


@pytest.mark.parametrize("path", [("eras", 7), ("eras", 0)])
def test_an_entry_that_cannot_be_moved_up_is_said(path: tuple[str | int, ...]) -> None:
    with pytest.raises(MarketFileError, match="is not in the market file, or is the first of its list"):
        edited(SHORT, Change("move up", path))


def test_half_a_sign_cannot_be_written() -> None:
    with pytest.raises(MarketFileError, match="half of a pair"):
        edited(SHORT, Change("put", ("business",), {"name": "\ud83d"}))


def test_a_good_file_has_no_faults() -> None:
    assert faults_in(SAMPLE) == ()


def test_every_fault_is_said_at_its_own_value() -> None:
    wrong = SAMPLE.replace("first_year = 1984", "first_year = 84").replace(
        'kind = "auction"', 'kind = "barn"'
    )
    assert [fault.path for fault in faults_in(wrong)] == [
        ("eras", 0, "first_year"),
        ("venues", 0, "kind"),
        ("venues", 2, "kind"),
    ]


def test_what_is_no_toml_is_said_with_its_line() -> None:
    [fault] = faults_in("base_currency = EUR\n")
    assert (fault.path, fault.line) == ((), 1)


def test_a_venue_that_nobody_knows_is_a_fault_of_the_whole_file() -> None:
    [fault] = faults_in(SAMPLE.replace('sells_at = "Tidewrack Counter"', 'sells_at = "Nowhere"'))
    assert fault.path == ()
    assert "Nowhere" in fault.message


def test_a_difference_shows_the_lines_that_go_and_come_with_their_numbers() -> None:
    after = SHORT.replace("1984", "1985")
    [place] = difference(SHORT, after)
    changed = [(line.kind, line.number, line.text) for line in place if line.kind != "same"]
    assert changed == [("removed", 9, "first_year = 1984"), ("added", 9, "first_year = 1985")]


def test_texts_that_are_the_same_have_no_difference() -> None:
    assert difference(SHORT, SHORT) == ()


def test_a_text_from_a_browser_keeps_the_line_ends_of_lines_that_stay() -> None:
    mixed = "one\r\ntwo\nthree\r\n"
    assert with_endings_of(mixed, "one\r\ntwo\r\nnew\r\nthree\r\n") == "one\r\ntwo\nnew\r\nthree\r\n"


def test_a_text_from_a_browser_that_ends_without_a_line_end_is_kept_so() -> None:
    assert with_endings_of("one\ntwo", "one\r\ntwo") == "one\ntwo"
