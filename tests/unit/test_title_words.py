"""Words of titles that move the price and that no field reads: found, with their worth, and never a person's name."""

import shutil
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.answers.fit.run import fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.answers.title_words.answer import find_words
from pipeline.answers.title_words.candidates import find_candidates, near_words
from pipeline.answers.title_words.run import find_words_of_ledger
from pipeline.cli import app
from pipeline.config import load_market
from pipeline.errors import FitError
from pipeline.notebook import open_folder
from pipeline.workspace import Workspace
from tests.drawn import fitted_plainly, sales, scenario_market
from tests.exports import LANTERN_HEADER, LOADED_AT, write_lantern
from tests.titled import saying, titles_sold

MARKET = scenario_market()


def listed(worth: dict[str, tuple[float, float]], *, chance: int = 3) -> dict[str, float]:
    """Return the words listed where titles say each phrase with its share and effect on the log price."""
    frame = saying(worth, chance=chance)
    return {word.word: word.share for word in find_words(fitted_plainly(frame), MARKET, frame).words}


def candidates(*titles: str, each: int = 12, venues: int = 3) -> set[str]:
    """Return the words of titles that may be listed."""
    return set(find_candidates(titles_sold(*titles, each=each, venues=venues), MARKET).words["phrase"])


def test_a_word_that_raises_the_price_is_listed_with_what_it_is_worth() -> None:
    assert listed({"signed": (0.08, 0.26)}) == {"signed": pytest.approx(0.30, abs=0.08)}


def test_a_word_that_lowers_the_price_is_adopted_as_a_defect() -> None:
    frame = saying({"squeaky": (0.08, -0.26)})
    [word] = find_words(fitted_plainly(frame), MARKET, frame).words

    assert word.market_file == '[[defects]]\nname = "squeaky"'


def test_words_that_say_nothing_of_the_price_are_not_listed_beside_one_that_does() -> None:
    empty = {f"q{first}{second}m": (0.05, 0.0) for first in "bcdfg" for second in "aeiou"}

    assert set(listed({"signed": (0.08, 0.26), "wow": (0.1, 0.0)} | empty)) == {"signed"}


@pytest.mark.parametrize("chance", range(4))
def test_of_words_that_all_say_nothing_none_is_listed(chance: int) -> None:
    empty = {f"q{first}{second}m": (0.05, 0.0) for first in "bcdfghjklm" for second in "aeiou"}

    assert listed(empty, chance=chance) == {}


def test_the_estate_of_a_person_is_never_listed_whatever_it_is_worth() -> None:
    assert set(listed({"from the estate of Jane Roe": (0.08, 0.34), "signed": (0.08, 0.26)})) == {"signed"}


@pytest.mark.parametrize(
    "whose",
    [
        "from the estate of Jane Roe",
        "Jane Roe collection",
        "property of the late Jane Roe",
        "Provenance: Jane Roe",
        "consigned by the heirs of Jane Roe",
        "owner Jane Roe",
        "signed by Jane Roe",
        "aus dem Nachlass Jane Roe",
        "Privatsammlung Jane Roe",
        "aus Familienbesitz Jane Roe",
        "succession Jane Roe",
        "appartenant à la famille Jane Roe",
        "proprietà di Jane Roe",
        "collezione Jane Roe",
        "colección Jane Roe",
        "propiedad de Jane Roe",
        "jane roe氏旧蔵",
        "Sammlung Hansen, Jane Roe",
        "jane roe コレクション",
    ],
)
def test_neither_a_word_of_provenance_nor_the_person_beside_it_may_be_listed(whose: str) -> None:
    found = candidates(f"Gannet Hi with box, {whose}", f"gannet hi with box, {whose.lower()}")

    named = r"jane|roe|estate|colle|propert|propri|propie|nachlass|sammlung|besitz|succession|famil|consign|heirs|owner"
    assert [phrase for phrase in found if pl.Series([phrase]).str.contains(named + "|氏|コ").item()] == []


def test_a_name_after_a_word_of_provenance_is_a_name_in_other_titles_as_well() -> None:
    assert "roe" not in candidates("Gannet Hi, roe collection, with box", "Gannet Hi, With box, roe")


@pytest.mark.parametrize("whose", ["provenance: roe", "collection (roe)", "nachlass hansen, roe"])
def test_what_follows_the_clause_of_a_word_of_provenance_is_a_name(whose: str) -> None:
    assert candidates(f"gannet hi with box, {whose}", each=24) == set()


def test_what_is_said_before_the_comma_stands_beside_a_word_of_provenance() -> None:
    assert candidates("Gannet Hi, signed, estate of Jane Roe", "Gannet Hi, signed, with box") == {"signed"}


def test_a_word_with_a_capital_among_small_ones_is_a_name_even_at_many_venues() -> None:
    assert candidates("Plover Lo, with box and Roe", "Plover Lo, signed and with box") == {"signed"}


def test_a_name_in_brackets_is_a_name_even_at_many_venues() -> None:
    assert candidates("Gannet Hi (Roe) with box", "Gannet Hi with laces") == set()


@pytest.mark.parametrize("by", ["by", "von", "für", "durch", "par", "pour", "da", "por", "to"])
def test_who_signed_it_is_no_word_and_that_it_is_signed_is_one(by: str) -> None:
    assert candidates(
        f"Gannet Hi with box, signed {by} Jane Roe", f"gannet hi with box, signed {by} jane roe"
    ) == {"signed"}


GERMAN = ("Plover Lo getragen, with Box, mit {}", "Plover Lo with Laces, boxed, {}")


def test_a_noun_of_a_language_that_writes_nouns_with_capitals_is_kept_where_three_venues_say_it() -> None:
    assert "widmung" in candidates(*(title.format("Widmung") for title in GERMAN))


def test_a_noun_with_a_capital_that_only_two_venues_say_may_be_a_name() -> None:
    assert "widmung" not in candidates(*(title.format("Widmung") for title in GERMAN), venues=2)


def test_first_name_and_surname_are_no_nouns_at_however_many_venues() -> None:
    assert (
        candidates(*(title.format("Hans Meier") for title in GERMAN)) & {"hans", "meier", "hans meier"}
        == set()
    )


def test_an_initial_and_a_surname_are_no_nouns_at_however_many_venues() -> None:
    assert "meier" not in candidates(*(title.format("H. Meier") for title in GERMAN))


@pytest.mark.parametrize("written", [str.lower, str.upper, str.title])
def test_where_capitals_say_nothing_a_word_needs_three_venues(written: object) -> None:
    title = written("gannet hi signed")  # type: ignore[operator]

    assert [candidates(title, each=24, venues=venues) for venues in (2, 3)] == [set(), {"signed"}]


@pytest.mark.parametrize("written", [str.lower, str.upper, str.title])
def test_where_capitals_say_nothing_two_unknown_words_side_by_side_may_be_a_person(written: object) -> None:
    assert candidates(written("gannet hi jane roe, with box"), each=24) == set()  # type: ignore[operator]


def test_two_small_words_that_only_stand_together_may_be_a_person_where_few_venues_say_them() -> None:
    assert candidates("Gannet Hi, With box, jane roe", "Gannet Hi, with box", venues=2) == set()


def test_two_small_words_that_only_stand_together_are_one_thing_where_three_venues_say_them() -> None:
    assert candidates("Gannet Hi, with box, hand dyed", "Gannet Hi, with box") == {"hand dyed"}


def test_words_of_a_script_without_capitals_need_three_venues() -> None:
    title = "ガネット, サイン入り, with box"

    assert [candidates(title, each=24, venues=venues) & {"サイン入り"} for venues in (2, 3)] == [
        set(),
        {"サイン入り"},
    ]


def test_where_it_was_made_is_no_name() -> None:
    assert candidates("Gannet Hi, with box, made in Ravenholm") == {"made in ravenholm"}


def test_an_example_shows_only_known_words_beside_the_word() -> None:
    shown = near_words("Gannet Hi Jane, signed, Roe, with box", "signed", {"gannet", "hi", "with", "box"})

    assert shown == "Hi …, signed, …, with"


def test_an_example_of_a_listed_word_holds_no_name_that_its_title_holds() -> None:
    title = "Gannet Hi with box, Jane Roe, signed"
    found = find_candidates(titles_sold(title), MARKET).words.select("phrase", "example").rows()

    assert found == [("signed", "…, signed")]


def sold_at(titles: dict[str, list[str]]) -> pl.DataFrame:
    """Return sales with the titles of each venue."""
    frames = [titles_sold(*said, each=1).with_columns(venue=pl.lit(venue)) for venue, said in titles.items()]
    return pl.concat(frames).with_columns(record_id=pl.int_range(pl.len()).cast(pl.String))


def test_what_one_venue_says_is_its_style() -> None:
    said, plain = "Gannet Hi, with box, hand picked", "Gannet Hi, with box"
    found = find_candidates(sold_at({"Holm": [said] * 20 + [plain] * 20, "Quay": [plain] * 40}), MARKET)

    assert (found.words.height, found.left_out) == (
        0,
        {"one venue's style": 3, "beyond the most frequent": 0},
    )


@pytest.mark.parametrize(("elsewhere", "kept"), [(4, False), (8, True)])
def test_a_word_of_which_one_venue_has_more_than_four_fifths_is_its_style(elsewhere: int, kept: bool) -> None:
    said, plain = "Gannet Hi, with box, signed", "Gannet Hi, with box"
    found = find_candidates(
        sold_at(
            {
                "Holm": [said] * 20 + [plain] * 20,
                "Quay": [said] * elsewhere + [plain] * (40 - elsewhere),
                "Pier": [plain] * 40,
            }
        ),
        MARKET,
    )
    assert (found.words["phrase"].to_list() == ["signed"]) is kept


def test_a_word_that_a_small_venue_hardly_says_is_the_style_of_the_one_with_most_of_its_uses() -> None:
    said, plain = "Gannet Hi, with box, signed", "Gannet Hi, with box"
    found = find_candidates(
        sold_at(
            {
                "Holm": [said] * 25 + [plain] * 75,
                "Quay": [said] * 5 + [plain] * 25,
                "Pier": [plain] * 100,
            }
        ),
        MARKET,
    )
    assert found.words.is_empty()


def test_a_word_that_is_as_usual_at_a_large_venue_as_at_a_small_one_is_no_style() -> None:
    said, plain = "Gannet Hi, with box, signed", "Gannet Hi, with box"
    found = find_candidates(
        sold_at({"Holm": [said] * 90 + [plain] * 90, "Quay": [said] * 15 + [plain] * 15}), MARKET
    )
    assert found.words["phrase"].to_list() == ["signed"]


@pytest.mark.parametrize(
    "said", ["not signed", "signed?", "no dubrae", "EUR", "450 dollars", "UK 9", "House 1", "with box"]
)
def test_what_is_denied_or_doubted_and_what_fields_and_money_say_is_no_candidate(said: str) -> None:
    assert candidates(f"Gannet Hi, {said}, with box", each=24) == set()


def test_a_word_in_few_sales_is_no_candidate() -> None:
    assert candidates("Gannet Hi, signed, with box", each=9) == set()


def test_sales_without_titles_have_no_words() -> None:
    frame = titles_sold("Gannet Hi").with_columns(title=pl.lit(None, dtype=pl.String))

    assert find_candidates(frame, MARKET).words.is_empty()


def test_empty_titles_have_no_words() -> None:
    assert candidates("", "  ", "|") == set()


def test_one_sale_has_no_words_that_could_be_learned() -> None:
    assert candidates("Gannet Hi, signed", each=1) == set()


def test_where_there_are_no_sales_it_is_said() -> None:
    frame = sales(1500, 11)
    with pytest.raises(FitError, match="there are no sales whose titles could be read"):
        find_words(fitted_plainly(frame), MARKET, frame.clear())


SILHOUETTES = {"Gannet Hi Buoy Red": 180, "Plover Lo Kelp": 90, "Gannet Hi Slate Tide": 150}


def make_ledger(folder: Path) -> Path:
    """Return a folder with a market file and a ledger of 240 sales, a fifth of them signed and a third up."""
    random = np.random.default_rng(5)
    shutil.copy(Path(__file__).parents[1] / "market.toml", folder)
    rows = []
    for number in range(240):
        title, price = list(SILHOUETTES.items())[number % 3]
        signed = random.random() < 0.2
        price *= (1.35 if signed else 1.0) * np.exp(random.normal(0, 0.08))
        said = f"{title} first run boxed{' and signed' if signed else ''}"
        day = f"2023-{1 + number % 12:02}-{1 + number % 28:02}"
        cells = {
            "item": f"L{number}",
            "title": said,
            "ended": day,
            "sold_for": f"{price:.2f}",
            "state": "sold",
        }
        rows.append(",".join(cells.get(name, "") for name in LANTERN_HEADER.split(",")))
    write_lantern(folder, *rows)
    read_and_fit(folder)
    return folder


def read_and_fit(folder: Path) -> None:
    """Read the export and fit the market to it."""
    ledger, market = folder / "pairband.duckdb", folder / "market.toml"
    ingest_exports(ledger, market, [folder / "lantern_2021.csv"], map_name=None, loaded_at=LOADED_AT)
    fit_ledger(ledger, market, fitted_at=LOADED_AT)


def test_the_lines_that_are_printed_make_the_word_a_field_with_the_same_worth(tmp_path: Path) -> None:
    folder = make_ledger(tmp_path)
    [word] = find_words_of_ledger(Workspace.open(folder)).words
    market = folder / "market.toml"
    market.write_text(f"{market.read_text(encoding='utf-8')}\n{word.market_file}\n", encoding="utf-8")
    read_and_fit(folder)
    effects = Workspace.open(folder).fitted.fit.effects
    [effect] = effects.filter(pl.col("level") == "signed", pl.col("role") == "fitted")["effect"]

    assert np.expm1(effect) == pytest.approx(word.share, abs=2 * word.error)


def test_a_word_that_was_adopted_is_listed_no_more(tmp_path: Path) -> None:
    folder = make_ledger(tmp_path)
    before = find_words_of_ledger(Workspace.open(folder)).words
    market = folder / "market.toml"
    market.write_text(f"{market.read_text(encoding='utf-8')}\n{before[0].market_file}\n", encoding="utf-8")
    read_and_fit(folder)

    assert find_words_of_ledger(Workspace.open(folder)).words == ()


def test_what_lowers_the_price_is_a_defect_in_the_market_file_too(tmp_path: Path) -> None:
    frame = saying({"squeaky": (0.08, -0.26)})
    [word] = find_words(fitted_plainly(frame), MARKET, frame).words
    market = tmp_path / "market.toml"
    before = (Path(__file__).parents[1] / "market.toml").read_text(encoding="utf-8")
    market.write_text(f"{before}\n{word.market_file}\n", encoding="utf-8")

    assert load_market(market).defects[-1].name == "squeaky"


@pytest.fixture(scope="module")
def signed_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_ledger(tmp_path_factory.mktemp("signed"))


def ran(folder: Path, *options: str) -> str:
    """Return what the command prints in a folder."""
    places = ("--ledger", str(folder / "pairband.duckdb"), "--market", str(folder / "market.toml"))
    return CliRunner().invoke(app, ["words", *options, *places], catch_exceptions=False).output


def test_the_command_says_how_to_adopt_a_word(signed_shop: Path) -> None:
    said = " ".join(ran(signed_shop).split())

    assert 'for “signed”, [[parts]] on a line, name = "signed" on the next' in said


def test_the_command_warns_where_one_venue_cannot_show_its_style(signed_shop: Path) -> None:
    assert "The sales are of one venue" in ran(signed_shop)


def test_the_list_goes_into_a_file_with_the_lines_of_the_market_file(signed_shop: Path) -> None:
    path = signed_shop / "words.csv"
    ran(signed_shop, "--csv", str(path))

    assert pl.read_csv(path)["market_file"].to_list() == ['[[parts]]\nname = "signed"']


def test_the_command_changes_nothing(signed_shop: Path) -> None:
    before = {
        path.name: path.read_bytes() for path in signed_shop.iterdir() if path.suffix in (".toml", ".duckdb")
    }
    ran(signed_shop)

    assert {name: (signed_shop / name).read_bytes() for name in before} == before


def test_a_notebook_lists_the_same_words(signed_shop: Path) -> None:
    assert open_folder(signed_shop).words().tables["words"]["word"].to_list() == ["signed"]


def test_the_order_of_the_sales_changes_nothing() -> None:
    frame = saying({"signed": (0.08, 0.26), "wow": (0.1, 0.0)})
    fitted = fitted_plainly(frame)
    shuffled = frame.sample(fraction=1, shuffle=True, seed=7)
    [first], [second] = (find_words(fitted, MARKET, sold).words for sold in (frame, shuffled))

    assert (second.word, second.sales, second.example) == (first.word, first.sales, first.example)
    assert second.share == pytest.approx(first.share, abs=1e-6)


def test_sales_of_a_silhouette_that_the_fit_does_not_know_are_valued_by_the_rest() -> None:
    frame = saying({"signed": (0.08, 0.26)})
    known = frame.filter(pl.col("silhouette") != "Gannet Hi")

    assert [word.word for word in find_words(fitted_plainly(known), MARKET, frame).words] == ["signed"]
