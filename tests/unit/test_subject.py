"""From the owner's words to a pair that can be valued."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.config import ExportMap, Market, Sizes
from pipeline.errors import PairError
from pipeline.ingest.lots import read_lots
from pipeline.market.pair import Pair
from pipeline.market.subject import Description, override, pairs_of_records, understand
from sample_data import scenario
from tests.exports import AS_OF


def test_words_become_a_pair_in_the_market_files_spelling(market: Market) -> None:
    described = Description(
        "ostrel gannet hi", colourway="BUOY", era="First", size="UK 9", grade="worn twice"
    )

    pair = understand(described, market)

    assert (pair.silhouette, pair.colourway, pair.era, pair.grade) == ("Gannet Hi", "Buoy Red", "first", 9.0)
    assert (pair.size_label, pair.size_system, pair.foot_mm) == ("UK 9", "UK", 271)


def test_what_is_left_out_is_not_known_and_none_is_an_answer(market: Market) -> None:
    pair = understand(Description("Plover Lo", defects="none"), market)

    assert pair.defects == ()
    assert pair.treatments is None


def test_several_defects_are_listed_with_commas(market: Market) -> None:
    pair = understand(Description("Plover Lo", defects="Yellowing, cracked overlay"), market)

    assert pair.defects == ("cracked overlay", "yellowing")


def test_a_silhouette_without_records_is_taken_as_it_is(market: Market) -> None:
    assert understand(Description("Great Auk"), market).silhouette == "Great Auk"


def test_a_typing_error_in_a_silhouette_is_pointed_out(market: Market) -> None:
    with pytest.raises(PairError, match=r"'Ganet Hi'; did you mean 'Gannet Hi'\?\n.*--as-written"):
        understand(Description("Ganet Hi"), market)


def test_what_looks_like_a_typing_error_may_be_meant(market: Market) -> None:
    assert understand(Description("Ganet Hi"), market, as_written=True).silhouette == "Ganet Hi"


@pytest.mark.parametrize(
    ("described", "told"),
    [
        (Description("  "), "no silhouette"),
        (Description("Plover Lo", era="third"), "era 'third' is not one of those known"),
        (Description("Plover Lo", box="yes"), "box 'yes' .*\nknown: original, replacement, none, unknown"),
        (Description("Plover Lo", size="UK 90"), "size 'UK 90'"),
        (Description("Plover Lo", size="nine"), "size 'nine'.*\nname the system"),
        (Description("Plover Lo", size="9"), "size '9'.*\nname the system"),
        (Description("Plover Lo", grade="11"), "grade '11'.*\ngive 1 to 10 by half"),
        (Description("Plover Lo", grade="8.3"), "grade '8.3'"),
        (Description("Plover Lo", defects="yellow"), "defect 'yellow' .*\ndid you mean 'yellowing'"),
        (Description("Plover Lo", venue="Lantern"), "venue 'Lantern'"),
    ],
)
def test_what_cannot_be_is_reported_with_the_way_out(
    market: Market, described: Description, told: str
) -> None:
    with pytest.raises(PairError, match=f"(?s){told}"):
        understand(described, market)


FIELDS = ("colourway", "era", "grade", "box", "tags", "overlay", "parts", "defects", "treatments")


def words_of_the_market_file() -> list[tuple[str, str, str]]:
    """Return (field, word, value as text) of every word that the demo's market file has for a pair."""
    market = scenario.market()
    told: list[tuple[str, str, str]] = []
    for field, items in (
        ("silhouette", market.silhouettes),
        ("era", market.eras),
        ("parts", market.parts),
        ("defects", market.defects),
        ("treatments", market.treatments),
    ):
        told += [(field, word, item.name) for item in items for word in (item.name, *item.phrases)]
    for field in ("box", "tags", "overlay"):
        told += [
            (field, word, value) for value, words in getattr(market.words, field).items() for word in words
        ]
    told += [("grade", word, f"{float(grade):g}") for word, grade in market.words.grades.items()]
    told += [
        ("silhouette", f"{silhouette.maker} {silhouette.name}", silhouette.name)
        for silhouette in market.silhouettes
    ]
    told += [
        ("colourway", word, colourway.name)
        for colourway in market.silhouettes[0].colourways
        for word in (colourway.name, *colourway.phrases)
    ]
    return told


def as_text(pair: Pair, field: str) -> str:
    value = getattr(pair, field)
    if isinstance(value, tuple):
        return ", ".join(value)
    return f"{value:g}" if isinstance(value, float) else str(value)


@pytest.mark.parametrize(("field", "word", "value"), words_of_the_market_file())
def test_every_word_of_the_market_file_may_be_used_to_describe_a_pair(
    field: str, word: str, value: str
) -> None:
    market = scenario.market()
    described = {"silhouette": market.silhouettes[0].name, field: word.upper()}

    assert as_text(understand(Description(**described), market), field) == value


STOCK = ExportMap.model_validate(
    {
        "venue": "Holm Sound Auctions",
        "files": "stock*.csv",
        "holds": "stock",
        "list_mark": ",",
        "columns": {name: name for name in ("silhouette", *FIELDS)} | {"size_label": "size"},
    }
)


def stock_pairs(market: Market, folder: Path, **words: str) -> tuple[Pair, ...]:
    """Return the pairs of a stock list with one row that holds these words."""
    path = folder / "stock.csv"
    row = dict.fromkeys(("silhouette", *FIELDS, "size"), "") | words
    pl.DataFrame({name: [word] for name, word in row.items()}).write_csv(path)
    with_stock = market.model_copy(update={"maps": {"stock": STOCK}})
    return pairs_of_records(read_lots(path, with_stock, as_of=AS_OF)[0])


def test_a_file_and_the_command_line_read_the_same_words_alike(tmp_path: Path) -> None:
    market = scenario.market()
    words = {
        "silhouette": "Ostrel Gannet Hi",
        "colourway": "Buoy",
        "era": "first run",
        "size": "UK 9",
        "grade": "zweimal getragen",
        "box": "Originalkarton",
        "defects": "cracked overlays, none",
        "treatments": "none",
    }
    [from_file] = stock_pairs(market, tmp_path, **words)

    said = understand(Description(**words), market)

    ours = {name: getattr(said, name) for name in ("silhouette", "foot_mm", *FIELDS)}
    theirs = {name: getattr(from_file, name) for name in ("silhouette", "foot_mm", *FIELDS)}
    # A file says of every pair what is not known of its box, its tags and its overlay.
    assert ours | {"tags": "unknown", "overlay": "unknown"} == theirs


def test_a_phrase_of_two_silhouettes_is_asked_about(market: Market) -> None:
    first, second, *others = market.silhouettes
    both = tuple(one.model_copy(update={"phrases": ("the high one",)}) for one in (first, second))
    unclear = market.model_copy(update={"silhouettes": (*both, *others)})

    with pytest.raises(PairError, match=f"'the high one' may be {first.name} or {second.name}"):
        understand(Description("the high one"), unclear)


def usual(market: Market) -> Market:
    return market.model_copy(update={"sizes": Sizes(usual="UK")})


def test_a_size_that_names_no_system_is_of_the_usual_one(market: Market) -> None:
    pair = understand(Description("Plover Lo", size="9"), usual(market))

    assert (pair.size_label, pair.size_system, pair.foot_mm) == ("9", "UK", 271)


def test_a_size_read_in_the_usual_system_is_said_to_be(market: Market) -> None:
    pair = understand(Description("Plover Lo", size="9"), usual(market))

    assert pair.read_as == (
        "Size 9 names no system: read as UK, your usual one ([sizes] usual of the market file).",
    )


def test_a_size_that_names_its_system_is_not_of_the_usual_one(market: Market) -> None:
    pair = understand(Description("Plover Lo", size="EU 43"), usual(market))

    assert (pair.size_system, pair.read_as) == ("EU", ())


def test_a_stock_list_without_a_system_is_of_the_usual_one_and_says_so(
    market: Market, tmp_path: Path
) -> None:
    [pair] = stock_pairs(usual(market), tmp_path, silhouette="Plover Lo", size="9")

    assert (pair.size_system, pair.foot_mm) == ("UK", 271)
    assert pair.read_as[0].startswith("Size 9 names no system: read as UK")


def test_a_stock_list_without_a_usual_system_leaves_the_size_unread(market: Market, tmp_path: Path) -> None:
    [pair] = stock_pairs(market, tmp_path, silhouette="Plover Lo", size="9")

    assert (pair.size_label, pair.foot_mm, pair.read_as) == ("9", None, ())


OF_THE_FILE = Pair(
    "Gannet Hi", size_label="UK 8", size_system="UK", foot_mm=262, grade=7.0, box="none", label="Stock 7"
)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({"size": "UK 9"}, "size: UK 9 from --size, not UK 8 from the file."),
        ({"grade": "worn twice"}, "grade: 9 from --grade, not 7 from the file."),
        ({"grade": "unknown"}, "grade: not known from --grade, not 7 from the file."),
        ({"era": "first"}, "era: first from --era, which the file does not say."),
        ({"defects": "none"}, "defects: none from --defects, which the file does not say."),
        ({"venue": "lantern dock"}, "venue: Lantern Dock from --venue, which the file does not say."),
    ],
)
def test_what_is_described_goes_before_the_file_and_says_so(
    market: Market, words: dict[str, str], told: str
) -> None:
    assert override(OF_THE_FILE, Description(**words), market).read_as == (told,)


def test_a_size_that_is_described_moves_the_foot_length(market: Market) -> None:
    assert override(OF_THE_FILE, Description(size="UK 9"), market).foot_mm == 271


def test_what_is_not_described_stays_as_the_file_says(market: Market) -> None:
    changed = override(OF_THE_FILE, Description(grade="8"), market)

    assert (changed.size_label, changed.box, changed.label) == ("UK 8", "none", "Stock 7")


def test_what_is_described_as_the_file_says_it_is_not_reported(market: Market) -> None:
    assert override(OF_THE_FILE, Description(grade="7"), market) == OF_THE_FILE
