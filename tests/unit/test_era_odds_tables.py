"""What is said of a pair whose era is in doubt, in the terminal and on its page."""

from pipeline.answers.era_odds.tables import era_odds_sheet, eras_table, finding_out_words, state_doubt
from reports.era_odds.page import era_odds_page
from tests.unit.test_era_odds import doubt


def test_the_mixture_stands_first_and_each_era_after_it_with_its_chance() -> None:
    rows = eras_table(doubt(0.7)).rows

    assert rows["words"].to_list() == ["In doubt", "If first", "If late reissue"]
    assert rows["chance"].to_list() == [None, 0.7, 1 - 0.7]
    assert rows["median"][0] == doubt(0.7).median


def test_the_page_states_the_answer_in_the_words_of_the_terminal() -> None:
    page = era_odds_page(doubt(0.7), business="Tidewrack Pairs")

    assert state_doubt(doubt(0.7)) == era_odds_sheet(doubt(0.7)).sentences[0]
    assert state_doubt(doubt(0.7)) in page
    assert finding_out_words(doubt(0.7)) in page


def test_at_the_average_price_finding_out_is_worth_the_most() -> None:
    assert "and never more" in finding_out_words(doubt(0.7))


def test_at_a_price_of_ones_own_finding_out_is_given_at_that_price() -> None:
    assert finding_out_words(doubt(0.7, 90.0)).startswith("If you can buy it for €90, finding out is worth €")
