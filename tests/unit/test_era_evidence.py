"""What is seen of a pair: read from the owner's words and from lists, and turned into what can be counted."""

from datetime import date
from typing import Any

import polars as pl
import pytest

from pipeline.config import Era, Market, parse_market
from pipeline.errors import MarketFileError, PairError
from pipeline.ingest.years import SEVERAL_ERAS
from pipeline.market.evidence import SEEN, as_levels, chances_of_years, share_of_wrong_labels, years_within
from pipeline.market.pair import Pair
from pipeline.market.seen import Seen, SeenWords, read_seen, seen_of_record, seen_records
from tests.unit.test_rests_on import TEXT

ON = date(2026, 10, 1)
ERAS = (
    Era(name="first", run="original", first_year=1984, last_year=1986),
    Era(name="second", run="original", first_year=1987, last_year=1991),
    Era(name="reissue", run="re-issue", first_year=1994),
)


def row(**known: Any) -> dict[str, Any]:
    return {"production_year": None, "lasting": "unknown", "factory_code": None, "unread": []} | known


def test_what_is_unknown_is_not_a_level() -> None:
    records = seen_records([(Pair("Gannet Hi", box="unknown", overlay="unknown", tags="unknown"), Seen())])

    assert as_levels(records).row(0) == ("Gannet Hi", *[None] * len(SEEN))


def test_a_colourway_is_one_of_its_silhouette_and_grades_count_in_whole_steps() -> None:
    pairs = [
        (Pair("Gannet Hi", colourway="Kelp", grade=8.5), Seen()),
        (Pair("Plover Lo", grade=10.0), Seen()),
    ]
    levels = as_levels(seen_records(pairs))

    assert levels["colourway"].to_list() == ["Gannet Hi Kelp", None]
    assert levels["grade"].to_list() == ["8 to 8.5", "10"]


def test_no_pairs_have_no_levels() -> None:
    assert as_levels(seen_records([])).height == 0


def test_a_decade_lies_in_the_eras_by_its_years() -> None:
    assert years_within(1980, 1989, ERAS, as_of=ON) == {"first": 3, "second": 3, "reissue": 0}


def test_an_era_that_lasts_ends_with_the_day_of_valuation() -> None:
    assert years_within(2020, 2030, ERAS, as_of=ON)["reissue"] == 7


def test_an_era_of_few_years_gains_by_a_year_that_both_have() -> None:
    # three years of the first's three, and of the second's five: 1 to 3 / 5, where no label is wrong
    chances = chances_of_years({"first": 3.0, "second": 3.0}, ERAS, as_of=ON, wrong=0.0)

    assert chances["second"] / chances["first"] == pytest.approx(3 / 5)
    assert chances["reissue"] == 0


def test_a_label_that_may_be_wrong_excludes_no_era() -> None:
    # 43 years from 1984 to 2026: 0.02 / 43 against 0.98 / 3 + 0.02 / 43
    chances = chances_of_years({"first": 1.0}, ERAS, as_of=ON, wrong=0.02)

    assert chances["reissue"] / chances["first"] == pytest.approx((0.02 / 43) / (0.98 / 3 + 0.02 / 43))


def test_years_in_no_era_say_nothing() -> None:
    assert set(chances_of_years({}, ERAS, as_of=ON, wrong=0.02).values()) == {1.0}


def test_labels_that_contradict_the_era_are_counted() -> None:
    labels = pl.DataFrame(
        {
            "era": ["first", "first", "reissue", "forgotten"],
            "production_year": pl.Series([1985, 1990, 1990, 1990], dtype=pl.Int32),
            "records": [90, 4, 5, 1000],
        }
    )

    assert share_of_wrong_labels(labels, ERAS) == pytest.approx(9.5 / 100)


def test_without_a_label_half_may_be_wrong() -> None:
    nothing = pl.DataFrame(
        schema={"era": pl.String, "production_year": pl.Int32, "records": pl.Int64},
    )

    assert share_of_wrong_labels(nothing, ERAS) == 0.5


def test_a_stamp_says_the_year_and_the_factory(market: Market) -> None:
    seen = read_seen(SeenWords(stamp="03/86-06/86 kx2"), market, as_of=ON)

    assert (seen.factory_code, seen.years, seen.from_label) == ("KX2", "1986", True)
    assert seen.within["first"] == 1


def test_years_in_words_are_no_label(market: Market) -> None:
    seen = read_seen(SeenWords(made="1980s"), market, as_of=ON)

    assert (seen.years, seen.from_label) == ("1980–1989", False)


def test_a_factory_code_is_read_without_regard_to_case(market: Market) -> None:
    assert read_seen(SeenWords(factory_code=" kx2 "), market, as_of=ON).factory_code == "KX2"


def test_a_lasting_that_is_unknown_is_not_seen(market: Market) -> None:
    assert read_seen(SeenWords(lasting="unknown"), market, as_of=ON).lasting is None


def test_words_go_before_what_a_file_says_and_leave_the_rest(market: Market) -> None:
    known = Seen(lasting="foam", factory_code="LN1", within={"first": 1.0}, years="1985", from_label=True)
    seen = read_seen(SeenWords(lasting="board"), market, as_of=ON, known=known)

    assert seen == Seen("board", "LN1", {"first": 1.0}, "1985", from_label=True)


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (SeenWords(stamp="86"), "stamp '86': "),
        (SeenWords(stamp=""), "no months can be read in it"),
        (SeenWords(stamp="06/86-03/86"), "stamp runs backwards"),
        (SeenWords(stamp="03/86-06/86 KX2", factory_code="LN1"), "the stamp says factory 'KX2'"),
        (SeenWords(made="long ago"), "no years can be read in it"),
        (SeenWords(made="1955"), "no era of the market file has such a year"),
        (SeenWords(lasting="cork"), "lasting 'cork' is not one of those known"),
    ],
)
def test_words_that_mean_nothing_are_refused(words: SeenWords, named: str, market: Market) -> None:
    with pytest.raises(PairError, match=named):
        read_seen(words, market, as_of=ON)


def test_a_label_of_a_list_says_its_year(market: Market) -> None:
    seen = seen_of_record(row(production_year=1985, factory_code="KX2", lasting="board"), market, as_of=ON)

    assert (seen.years, seen.from_label, seen.lasting, seen.factory_code) == ("1985", True, "board", "KX2")


def test_a_decade_in_a_list_says_its_eras_by_their_shares(market: Market) -> None:
    cell = {"field": "era", "value": "80s", "reason": SEVERAL_ERAS + "first=0.5,second=0.5"}
    seen = seen_of_record(row(unread=[cell]), market, as_of=ON)

    assert (dict(seen.within), seen.from_label) == ({"first": 0.5, "second": 0.5}, False)


def test_a_row_that_says_nothing_shows_nothing(market: Market) -> None:
    assert seen_of_record(row(), market, as_of=ON) == Seen()


@pytest.mark.parametrize(
    ("prior", "named"),
    [
        ("{ first = 0.5, second = 0.5 }", "leaves out the era 'reissue'"),
        (
            "{ first = 0.5, second = 0.2, reisue = 0.3 }",
            "names 'reisue', which is no era; did you mean 'reissue'",
        ),
        ("{ first = 0.5, second = 0.5, reissue = 0.5 }", "comes to 1.5"),
        ("{ first = 0.0, second = 0.5, reissue = 0.5 }", "era_odds.prior.first"),
        ('{ first = "often", second = 0.5, reissue = 0.5 }', "era_odds.prior.first"),
    ],
)
def test_a_prior_that_cannot_be_is_refused(prior: str, named: str) -> None:
    with pytest.raises(MarketFileError, match=named):
        parse_market(f"{TEXT}\n[era_odds]\nprior = {prior}\n", where="market.toml")
