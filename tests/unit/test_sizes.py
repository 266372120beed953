"""Size labels of every system."""

import polars as pl
import pytest

from pipeline.errors import UnknownName
from pipeline.ingest.sizes import foot_mm, read_sizes


def read_one(label: str, system: str | None = "UK") -> tuple[str | None, int | None, str | None]:
    """Return system, length and reason of one label."""
    frame = read_sizes(pl.Series([label]), system=system)
    named, length, reason = frame.select("size_system", "foot_mm", "reason").row(0)
    return named, length, reason


@pytest.mark.parametrize(
    ("label", "system", "length"),
    [
        ("UK 9", "UK", 271),
        ("9", "UK", 271),
        ("UK9", "UK", 271),
        ("9 UK", "UK", 271),
        ("UK-9", "UK", 271),
        ("9½", "UK", 275),
        ("9 1/2", "UK", 275),
        ("ＵＫ　９", "UK", 271),
        ("EU 43 1/3", "EU", 272),
        ("EU 43⅓", "EU", 272),
        ("EU 43,5", "EU", 273),
        ("EUR 44", "EU", 276),
        ("US 10.5", "US men", 275),
        ("US W 8", "US women", 241),
        ("US 8 W", "US women", 241),
        ("US women's 8.5", "US women", 246),
        ("27.5cm", "JP", 275),
        ("27,5 CM", "JP", 275),
        ("JP 27", "JP", 270),
        ("275 mm", "mm", 275),
        ("UK 9 / EU 43", "UK", 271),
        ("UK 9 (EU 43) US 10", "UK", 271),
        ("size 9", "UK", 271),
    ],
)
def test_a_label_is_placed_on_the_axis(label: str, system: str, length: int) -> None:
    assert read_one(label) == (system, length, None)


def test_the_label_wins_over_the_export_map() -> None:
    assert read_one("UK 9", "EU") == ("UK", 271, None)


def test_a_bare_us_size_is_a_womans_where_the_export_says_so() -> None:
    assert read_one("US 9", "US women")[0] == "US women"


def test_a_japanese_size_in_mm_is_in_mm() -> None:
    assert read_one("275", "JP") == ("mm", 275, None)


@pytest.mark.parametrize(
    ("label", "reason"),
    [
        ("43,5", "563 mm is no foot length from 200 to 340 mm"),
        ("UK 9 / EU 38", "apart"),
        ("UK 9-9.5", "two sizes of one system"),
        ("9 or 10", "not a size"),
        ("big", "not a size"),
        ("-3", "not a size"),
        ("UK", "not a size"),
        ("9e9", "not a size"),
    ],
)
def test_what_is_no_size_says_why(label: str, reason: str) -> None:
    _, length, why = read_one(label)
    assert length is None
    assert reason in str(why)


def test_a_bare_number_needs_a_system() -> None:
    assert "no size system" in str(read_one("9", None)[2])


@pytest.mark.parametrize("label", ["", "-", "n/a", "?"])
def test_an_empty_label_is_no_fault(label: str) -> None:
    assert read_one(label) == (None, None, None)


def test_an_unknown_system_is_refused() -> None:
    with pytest.raises(UnknownName, match="no size system is called 'UKK'"):
        read_one("9", "UKK")


def test_no_labels_give_no_sizes() -> None:
    assert read_sizes(pl.Series([], dtype=pl.String), system="UK").schema["foot_mm"] == pl.Int32


@pytest.mark.parametrize(
    ("system", "label", "first"),
    [
        ("UK", "UK {}", 4),
        ("EU", "EU {}", 36),
        ("US men", "US men {}", 5),
        ("US women", "US women {}", 6.5),
        ("JP", "{} cm", 23),
        ("mm", "{} mm", 230),
    ],
)
def test_the_half_sizes_of_a_system_rise_with_the_foot(system: str, label: str, first: float) -> None:
    read = read_sizes(pl.Series([label.format(f"{first + half / 2:g}") for half in range(16)]), system=None)
    assert read["reason"].is_null().all()
    assert read["foot_mm"].is_sorted()
    assert read["size_system"].unique().to_list() == [system]


def test_a_size_is_a_number_or_a_column() -> None:
    column = pl.DataFrame({"number": [9.0]}).select(foot_mm("UK", pl.col("number"))).item()
    assert column == foot_mm("UK", 9.0)


@pytest.mark.parametrize(
    ("label", "system", "length"),
    [
        ("9UK10US", "UK", 271),
        ("JP 275", "mm", 275),
        ("UK 9 y EU 43", "UK", 271),
        ("EU 43-1/3", "EU", 272),
        ("JP 27 / 285 mm", "JP", 270),
    ],
)
def test_sizes_that_run_together_or_lie_at_the_edge_are_read(label: str, system: str, length: int) -> None:
    assert read_one(label) == (system, length, None)


# UK 11: 34 ÷ 3 inches are 287.87 mm. EU 20.5: 16.1417 - 2 thirds of an inch are 119.73 mm.
@pytest.mark.parametrize(
    ("label", "reason"),
    [
        ("9 or 10", "not a size"),
        ("/", "not a size"),
        ("UK 9 / UK 9.5", "it names two sizes of one system"),
        ("UK 9 / US 9 / UK 9.5", "it names two sizes of one system"),
        ("JP 100", "100 mm is no foot length from 200 to 340 mm"),
        ("EU 20.5", "120 mm is no foot length from 200 to 340 mm"),
        ("341 mm", "341 mm is no foot length from 200 to 340 mm"),
        ("JP 27 / 286 mm", "its sizes lie 16 mm apart"),
        ("JP 27 / UK 11", "its sizes lie 18 mm apart"),
    ],
)
def test_a_reason_is_reported_in_full(label: str, reason: str) -> None:
    assert read_one(label)[1:] == (None, reason)


def test_a_number_without_a_system_is_reported_in_full() -> None:
    reason = "no size system: neither the label nor the export map names one"
    assert read_one("9", None) == (None, None, reason)


@pytest.mark.parametrize(("label", "length"), [("200 mm", 200), ("340 mm", 340)])
def test_the_shortest_and_the_longest_foot_are_feet(label: str, length: int) -> None:
    assert read_one(label) == ("mm", length, None)


def test_labels_come_back_once_each_as_printed_and_in_order() -> None:
    labels = pl.Series(["UK 9", "eu 43", None, "big", "27,5 CM", "UK 9", " uk 9"])
    found = read_sizes(labels, system=None)
    assert found.rows() == [
        ("UK 9", "UK", 271, None),
        ("eu 43", "EU", 270, None),
        ("big", None, None, "not a size"),
        ("27,5 CM", "JP", 275, None),
        (" uk 9", "UK", 271, None),
    ]
    assert found.columns == ["size_label", "size_system", "foot_mm", "reason"]


@pytest.mark.parametrize(
    ("system", "remedy"), [("EUU", "did you mean 'EU'?"), ("FR", "known: EU, JP, UK, US men, US women, mm.")]
)
def test_a_size_of_an_unknown_system_has_no_length(system: str, remedy: str) -> None:
    with pytest.raises(UnknownName) as refused:
        foot_mm(system, 40.0)
    assert str(refused.value) == f"no size system is called {system!r}\n{remedy}"
    with pytest.raises(UnknownName) as unread:
        read_sizes(pl.Series(["9"]), system=system)
    assert str(unread.value) == str(refused.value)
