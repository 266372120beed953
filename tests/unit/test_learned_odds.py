"""Odds of an era learned from the records of a ledger, and what is said of them."""

import json
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import polars as pl
import pytest
from click.testing import CliRunner, Result
from scipy.stats import chi2

from pipeline.answers.era_odds.answer import AS_DESCRIBED
from pipeline.answers.era_odds.learned import LearnedOdds, learn_from_records
from pipeline.answers.era_odds.run import appraise_in_doubt, learn_eras_of
from pipeline.answers.era_odds.tables import (
    label_words,
    learned_tables,
    origin_words,
    piece_words,
    pieces_table,
    reliability_table,
)
from pipeline.cli import app
from pipeline.config import Market, parse_market
from pipeline.errors import PairError
from pipeline.ledger import open_ledger
from pipeline.market.era_reliability import Reliability
from pipeline.market.pair import Pair
from pipeline.market.seen import Seen, SeenWords
from pipeline.market.subject import Description
from pipeline.workspace import Workspace
from reports.era_odds.page import era_odds_page
from sample_data import scenario
from tests.demo_ledger import LATER, demo_ledger
from tests.unit.test_rests_on import TEXT

ON = date(2024, 10, 1)
PAIR = Pair("Gannet Hi", box="original", grade=8.0)
RECORDS = (
    {"record_id": pl.String, "day": pl.Date, "era": pl.String, "silhouette": pl.String}
    | dict.fromkeys(("colourway", "factory_code", "lasting", "overlay", "box", "tags"), pl.String)
    | {"grade": pl.Float64}
)
HEADINGS = "item,sku,title,listed,ended,sold_for,asked,state,size,grade,box"


def export(rows: int, *, more: tuple[str, ...] = ()) -> str:
    """Return an export of first runs, four in five without a box, and re-issues, four in five with one."""
    lines = [HEADINGS]
    for number in range(rows):
        era = "first run" if number % 2 else "re-issue"
        boxed = (number // 2 % 5 == 0) == bool(number % 2)
        day = date(2023, 1, 1) + timedelta(days=number)
        lines.append(
            f"L{number},,Gannet Hi {era},{day},{day},{150 + number % 40}.00,,sold,UK {7 + number % 4},"
            f"{5 + number // 2 % 4},{'original' if boxed else 'none'}"
        )
    return "\n".join((*lines, *more)) + "\n"


def called(folder: Path, *words: str) -> Result:
    places = ("--ledger", str(folder / "pairband.duckdb"), "--market", str(folder / "market.toml"))
    said = CliRunner().invoke(app, [*words, *places])
    if said.exception and not isinstance(said.exception, SystemExit):
        raise said.exception
    return said


@cache
def shop(rows: int = 300, *more: str) -> Path:
    """Return a folder with a ledger of so many sales, one a day from 2023 on, and a fit."""
    folder = Path(mkdtemp(prefix="pairband-odds-"))
    (folder / "market.toml").write_text(TEXT, encoding="utf-8")
    (folder / "lantern_2023.csv").write_text(export(rows, more=more), encoding="utf-8")
    called(folder, "ingest", str(folder / "lantern_2023.csv"))
    called(folder, "fit")
    return folder


def odds(folder: Path, seen: Seen | None = None, *, on: date = ON) -> LearnedOdds:
    with Workspace.open(folder) as workspace:
        return learn_eras_of(workspace, as_of=on).odds_of(PAIR, seen or Seen())


def market_with_prior(first: float) -> Market:
    prior = f"first = {first}\nsecond = 0.05\nreissue = {0.95 - first:.2f}\n"
    return parse_market(f"{TEXT}\n[era_odds.prior]\n{prior}", where="market.toml")


def of_frames(market: Market, rows: int) -> LearnedOdds:
    one = dict.fromkeys(RECORDS) | {"day": date(2024, 1, 1), "silhouette": "Gannet Hi"}
    seen = [{"era": "first", "box": "none"}, {"era": "reissue", "box": "original"}]
    records = pl.DataFrame(
        [one | seen[number % 2] | {"record_id": str(number)} for number in range(rows)], schema=RECORDS
    )
    labels = pl.DataFrame(schema={"era": pl.String, "production_year": pl.Int32, "records": pl.Int64})
    return learn_from_records(records, labels, market, as_of=ON).odds_of(PAIR, Seen())


def test_a_box_speaks_for_the_era_that_has_more_of_them() -> None:
    assert odds(shop()).odds["reissue"] > 0.65


def test_what_is_seen_is_counted_by_era() -> None:
    [box] = [piece for piece in odds(shop()).pieces if piece.name == "box"]

    assert piece_words(box, odds(shop()).eras) == "Box original: on 30 of 150 first, 120 of 150 reissue."


def test_a_later_record_changes_nothing_before_it() -> None:
    later = "L9,,Gannet Hi first run,2024-09-01,2024-09-01,900.00,,sold,UK 9,9,original"

    assert odds(shop(300, later), on=date(2024, 8, 31)) == odds(shop(), on=date(2024, 8, 31))


def test_a_later_offer_of_a_pair_does_not_count_it_again() -> None:
    offers = tuple(
        f"M{number},K77,Gannet Hi first run,2024-0{number}-01,2024-0{number}-01,200.00,,sold,UK 9,7,none"
        for number in (1, 2, 3)
    )

    assert odds(shop(300, *offers)).records == 301


def test_a_withdrawn_offer_is_not_learned_from() -> None:
    withdrawn = "W1,,Gannet Hi first run,2024-01-01,2024-01-01,,180.00,withdrawn,UK 9,7,none"

    assert odds(shop(300, withdrawn)).records == 300


def test_an_unsold_offer_is_learned_from() -> None:
    unsold = "W1,,Gannet Hi first run,2024-01-01,2024-01-01,,180.00,unsold,UK 9,7,none"

    assert odds(shop(300, unsold)).records == 301


def test_the_owners_prior_takes_the_place_of_the_shares() -> None:
    learned = of_frames(market_with_prior(0.8), 8)

    assert learned.own_prior
    assert learned.start[0] == pytest.approx(0.8, abs=0.03)


def test_eight_records_leave_the_owners_prior_nearly_as_it_is() -> None:
    assert of_frames(market_with_prior(0.8), 8).odds["first"] == pytest.approx(0.8, abs=0.05)


def test_without_a_record_the_owners_prior_stands() -> None:
    assert of_frames(market_with_prior(0.8), 0).odds == pytest.approx(
        {"first": 0.8, "second": 0.05, "reissue": 0.15}
    )


def test_without_a_record_and_a_prior_there_are_no_odds(market: Market) -> None:
    with pytest.raises(PairError, match=r"no record up to 2024-10-01 states an era\n.*era_odds"):
        of_frames(market, 0)


def test_a_label_of_one_era_leaves_little_of_the_others() -> None:
    learned = odds(shop(), Seen(within={"first": 1.0}, years="1985", from_label=True))

    assert learned.pieces[-1].name == "label date"
    assert learned.odds["first"] > odds(shop()).odds["first"]


def test_years_are_said_to_be_assumed() -> None:
    learned = odds(shop(), Seen(within={"first": 1.0}, years="1985", from_label=True))

    assert "any year of its era" in label_words(learned)


def test_the_steps_multiply_to_the_chances() -> None:
    rows = pieces_table(odds(shop(), Seen(within={"first": 1.0}, years="1985"))).rows
    product = [1.0, 1.0, 1.0]
    for row in rows.filter(pl.col("step") != "end").iter_rows(named=True):
        product = [value * row[f"era_{place}"] for place, value in enumerate(product)]
    chances = [rows[f"era_{place}"][-1] for place in range(3)]

    assert [value / sum(product) for value in product] == pytest.approx(chances)


def test_the_chances_are_said_to_be_tested_on_later_records() -> None:
    found = odds(shop()).reliability

    assert found is not None
    assert found.judged == 240
    assert reliability_table(found).rows["times"].sum() == 3 * 240


def test_a_small_factor_keeps_its_first_figure() -> None:
    texts = pieces_table(odds(shop(), Seen(within={"first": 1.0}, years="1985", from_label=True))).texts()

    assert "×0.00" not in " ".join(texts[-2])


def test_few_records_are_said_to_be_too_few_to_test() -> None:
    assert [one.key for one in learned_tables(odds(shop(40)))] == ["evidence"]


def test_odds_of_the_owner_have_no_table_of_evidence() -> None:
    assert learned_tables(None) == ()


def appraised(*words: str) -> Result:
    pair = ("appraise", "--silhouette", "Gannet Hi", "--grade", "8", "--on", str(ON))
    return called(shop(), *pair, *words)


def test_the_answer_says_that_it_does_not_authenticate() -> None:
    document = json.loads(appraised("--era-odds", "sales", "--json").stdout)

    assert AS_DESCRIBED in document["cautions"]


def test_the_command_takes_what_is_seen() -> None:
    seen = ("--lasting", "board", "--stamp", "03/85-06/85 KX2", "--box", "original")
    document = json.loads(appraised("--era-odds", "sales", *seen, "--json").stdout)

    assert [piece["name"] for piece in document["learned"]["pieces"]] == [
        *("factory code", "lasting", "box", "condition", "label date")
    ]


@pytest.mark.parametrize(
    "words",
    [
        ("--lasting", "board"),
        ("--made", "1980s", "--era-odds", "first=0.5,second=0.5"),
        ("--made", "1980s", "--stamp", "03/85 KX2", "--era-odds", "sales"),
    ],
)
def test_what_is_seen_goes_with_odds_that_are_learned_only(words: tuple[str, ...]) -> None:
    assert appraised(*words).exit_code == 2


def test_the_page_says_where_the_chances_come_from() -> None:
    with Workspace.open(shop()) as workspace:
        described = Description(silhouette="Gannet Hi", box="original")
        doubt = appraise_in_doubt(workspace, described, "sales", as_of=ON, seen=SeenWords(made="1980s"))
    page = era_odds_page(doubt, business="Tidewrack Pairs")

    assert all(sentence in page for sentence in origin_words(doubt))
    assert "How the chances did on 240 later records" in page


@cache
def demo_reliability() -> Reliability:
    """Return how the odds did on the demo's later records."""
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        records = ledger.read("marts/era_records", as_of=LATER.date())
        labels = ledger.read("marts/label_years", as_of=LATER.date())
    learned = learn_from_records(records, labels, scenario.market(), as_of=LATER.date())
    found = learned.odds_of(PAIR, Seen()).reliability
    assert found is not None
    return found


def test_the_demos_later_records_bear_out_the_odds_within_their_sampling_error() -> None:
    off = [(one.were - one.given) / one.error for one in demo_reliability().bins if one.times >= 20]

    assert len(off) >= 8
    assert sum(value**2 for value in off) < chi2.ppf(0.99, len(off))


def test_what_is_seen_says_more_of_the_demos_eras_than_the_silhouette_alone() -> None:
    assert demo_reliability().gain > 5 * demo_reliability().gain_error
