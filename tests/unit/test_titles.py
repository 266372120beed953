"""What titles say: one statement of the trade a test."""

from typing import Any

import polars as pl
import pytest

from pipeline.config import Market
from pipeline.ingest.titles import read_titles

PAIR = "Ostrel Gannet Hi"


def read_one(title: str, market: Market) -> dict[str, Any]:
    """Return the reading of one title."""
    return read_titles(pl.Series([title]), market).row(0, named=True)


@pytest.mark.parametrize(
    "said",
    [
        "no box",
        "box not included",
        "w/o box",
        "without original box",
        "box missing",
        "box: none",
        "lacks box",
        "no boxes",
        "box long gone",
        "w/out box",
        "boxless",
    ],
)
def test_a_box_that_is_denied_is_none(said: str, market: Market) -> None:
    assert read_one(f"{PAIR}, {said}", market)["box"] == "none"


@pytest.mark.parametrize(
    "said", ["stan 8+", "état : 8,5", "estado 8.5", "skick 8½", "Zustand 8+", "kunto: 8,5"]
)
def test_a_grade_after_the_word_for_condition_is_read_in_other_languages(said: str, market: Market) -> None:
    assert read_one(f"{PAIR}, {said}", market)["grade"] == 8.5


def test_an_original_box_lost_does_not_undo_its_replacement(market: Market) -> None:
    assert read_one(f"{PAIR}, replacement box, original box lost", market)["box"] == "replacement"


def test_a_box_that_is_only_named_says_nothing(market: Market) -> None:
    assert read_one(f"{PAIR} with box", market)["box"] is None


@pytest.mark.parametrize("said", ["ships double boxed", "will be well boxed", "missing box lid"])
def test_parcels_and_lids_say_nothing_of_the_box(said: str, market: Market) -> None:
    assert read_one(f"{PAIR}, {said}", market)["box"] is None


def test_no_reserve_is_not_no_box(market: Market) -> None:
    assert read_one(f"{PAIR}, no reserve, original box", market)["box"] == "original"


def test_a_denial_reaches_along_or(market: Market) -> None:
    read = read_one(f"{PAIR}, no box or tags", market)
    assert (read["box"], read["tags"]) == ("none", "none")


def test_a_denial_ends_at_the_comma(market: Market) -> None:
    read = read_one(f"{PAIR}, no box, tags attached", market)
    assert (read["box"], read["tags"]) == ("none", "attached")


def test_a_denial_stops_at_the_next_thing_affirmed(market: Market) -> None:
    assert read_one(f"{PAIR}, tags missing original box", market)["box"] == "original"


@pytest.mark.parametrize(
    "said", ["never restored", "not restored", "unrestored", "no restoration", "untouched"]
)
def test_a_pair_never_restored_has_no_treatments(said: str, market: Market) -> None:
    assert read_one(f"{PAIR}, {said}", market)["treatments"] == []


@pytest.mark.parametrize(
    "said",
    [
        "not resoled",
        "soles could use a swap",
        "needs reglue",
        "will need a deep clean",
        "sole swap candidate",
        "reglue needed",
        "sole swap not done",
        "sole swap not recommended",
        "does not need a reglue",
        "reglue is easy",
        "deep clean advised",
        "deep clean would do wonders",
        "deep clean and reglue still to be done",
        "repainted?? seller unsure",
        "never resoled, reglued or repainted",
    ],
)
def test_work_that_was_not_done_is_no_treatment(said: str, market: Market) -> None:
    assert read_one(f"{PAIR}, {said}", market)["treatments"] is None


def test_work_done_is_a_treatment(market: Market) -> None:
    read = read_one(f"{PAIR}, sole swap done 2019, never repainted, deep cleaned & reglued", market)
    assert read["treatments"] == ["sole swap", "deep clean", "reglue"]


def test_a_pair_without_flaws_has_no_defects(market: Market) -> None:
    assert read_one(f"{PAIR}, no flaws", market)["defects"] == []


def test_a_defect_denied_says_nothing_of_the_others(market: Market) -> None:
    assert read_one(f"{PAIR}, no yellowing", market)["defects"] is None


def test_a_flaw_excepted_is_a_defect(market: Market) -> None:
    assert read_one(f"{PAIR}, no flaws except yellowing", market)["defects"] == ["yellowing"]


def test_two_silhouettes_are_neither(market: Market) -> None:
    assert read_one("Gannet Hi and Plover Lo", market)["silhouette"] is None


def test_the_longer_name_holds_the_shorter(market: Market) -> None:
    nested = market.silhouettes[0].model_copy(update={"name": "Gannet Hi Storm", "phrases": ()})
    wider = market.model_copy(update={"silhouettes": (*market.silhouettes, nested)})
    assert read_one("Ostrel Gannet Hi Storm", wider)["silhouette"] == "Gannet Hi Storm"


def test_a_colourway_of_another_silhouette_is_not_taken(market: Market) -> None:
    assert read_one(f"{PAIR} Kelp", market)["colourway"] is None


@pytest.mark.parametrize(
    "said",
    [
        "possibly first run",
        "first run?",
        "not first run",
        "first run style",
        "first owner",
        "first run style lace up",
        "prob. first run",
        "seems to be first run",
        "I think it's the first run",
        "first run retro? unsure",
    ],
)
def test_an_era_in_doubt_is_not_stated(said: str, market: Market) -> None:
    assert read_one(f"{PAIR}, {said}", market)["era"] is None


def test_a_grade_of_ten_goes_before_a_word(market: Market) -> None:
    assert read_one(f"{PAIR}, worn twice, 8½/10", market)["grade"] == 8.5


@pytest.mark.parametrize(
    "said",
    [
        "near deadstock",
        "good luck",
        "box 7/10",
        "with good original box",
        "listed 9/10/2019",
        "og box beat",
        "og box in fair condition",
        "uppers very good",
        "soles 7/10",
        "practically deadstock",
    ],
)
def test_what_is_not_the_grade_of_the_pair_is_none(said: str, market: Market) -> None:
    assert read_one(f"{PAIR}, {said}", market)["grade"] is None


def test_a_word_of_the_pair_stands_beside_one_of_the_box(market: Market) -> None:
    assert read_one(f"{PAIR}, og box in fair condition, shoes very good", market)["grade"] == 8.0


@pytest.mark.parametrize(
    ("written", "label", "system"),
    [
        ("US 8 W", "US 8 W", "US women"),
        ("US 8 w/ box", "US 8", "US men"),
        ("10 US w/o box", "10 US", "US men"),
        ("UK-9", "UK-9", "UK"),
        ("UK size 9", "UK size 9", "UK"),
        ("size 9", "9", None),
        ("og box_UK 9_no tags", "UK 9", "UK"),
    ],
)
def test_a_size_is_read_however_it_is_written(
    written: str, label: str, system: str | None, market: Market
) -> None:
    read = read_one(f"{PAIR}, {written}", market)
    assert (read["size_label"], read["size_system"]) == (label, system)


def test_size_and_stamp_are_verbatim(market: Market) -> None:
    read = read_one("Ostrel　Gannet Hi, ＵＫ　９ / EU 43, 03/85–06/85 KX2", market)
    assert (read["size_label"], read["stamp_text"]) == ("ＵＫ　９ / EU 43", "03/85–06/85 KX2")


def test_two_sizes_that_differ_are_none(market: Market) -> None:
    assert read_one(f"{PAIR} UK 7 to UK 11", market)["size_label"] is None


def test_an_ordinal_is_its_word(market: Market) -> None:
    assert read_one(f"{PAIR}, 1st series", market)["era"] == "first"


def test_work_done_stands_beside_work_to_do(market: Market) -> None:
    assert read_one(f"{PAIR}, deep cleaned and reglue needed", market)["treatments"] == ["deep clean"]


def test_case_accents_and_hyphens_do_not_matter(market: Market) -> None:
    assert read_one("GÄNNET-HI, re issue", market)["silhouette"] == "Gannet Hi"
    assert read_one("GÄNNET-HI, re issue", market)["era"] == "reissue"


@pytest.mark.parametrize("title", ["", " ", "Gannets and plovers", "🙂", "\x00", "'; --", "<script>"])
def test_a_title_that_says_nothing_is_all_null(title: str, market: Market) -> None:
    read = read_one(title, market)
    assert all(value is None for name, value in read.items() if name != "title")


def test_the_columns_are_those_of_a_sale_record(market: Market) -> None:
    read = read_titles(pl.Series([PAIR, None, PAIR]), market)
    assert read.height == 1
    assert read.schema["defects"] == pl.List(pl.String)
    assert read.schema["grade"] == pl.Float64


def test_no_titles_give_no_rows(market: Market) -> None:
    assert read_titles(pl.Series([], dtype=pl.String), market).is_empty()


def test_a_market_without_phrases_still_reads_size_and_grade() -> None:
    bare = Market.model_validate(
        {
            "base_currency": "EUR",
            "eras": [{"name": "first", "run": "original", "first_year": 1984}],
            "venues": [{"name": "Quay", "kind": "shop", "currency": "EUR"}],
        }
    )
    read = read_one("UK 9, 8/10, no box", bare)
    assert (read["size_label"], read["grade"], read["box"]) == ("UK 9", 8.0, None)
