"""Notes are read as titles are, after the title."""

from pathlib import Path
from typing import Any

import pytest

from pipeline.config import Market
from pipeline.ledger import open_ledger
from tests.exports import ingest, write_holm
from tests.kept import sales_of


def sale_of(title: str, notes: str, market: Market, folder: Path) -> dict[str, Any]:
    """Return the sale that a row with a title and notes becomes."""
    row = f'1;"{title}";05.03.2021;600,00;zugeschlagen;;"{notes}"'
    with open_ledger(folder / "ledger.duckdb", create=True) as ledger:
        ingest(ledger, market, [write_holm(folder, row)])
        return sales_of(ledger).row(0, named=True)


@pytest.mark.parametrize(
    ("field", "notes", "value"),
    [
        ("defects", "Beautiful. Some heel drag, overlays cracking.", ["heel wear", "cracked overlay"]),
        ("treatments", "Soles were swapped in 2021; deep cleaned.", ["sole swap", "deep clean"]),
        ("parts", "Comes with spare laces.", ["spare laces"]),
        ("box", "In a replacement box.", "replacement"),
        ("grade", "Condition 8/10.", 8.0),
        ("era", "A first run pair.", "first"),
        ("era", "Made in 1986.", "first"),
        ("colourway", "In Buoy Red.", "Buoy Red"),
        ("size_label", "Labelled UK 9.", "UK 9"),
    ],
)
def test_notes_say_what_the_title_leaves_open(
    field: str, notes: str, value: object, market: Market, tmp_path: Path
) -> None:
    sale = sale_of("Ostrel Gannet Hi", notes, market, tmp_path)
    assert (sale[field], sale[f"{field}_origin"]) == (value, "notes")


def test_notes_name_the_silhouette_that_the_title_does_not(market: Market, tmp_path: Path) -> None:
    sale = sale_of("A fine pair", "Gannet Hi, never restored", market, tmp_path)
    assert (sale["silhouette"], sale["silhouette_origin"], sale["treatments"]) == ("Gannet Hi", "notes", [])


def test_the_title_goes_before_notes_that_contradict_it(market: Market, tmp_path: Path) -> None:
    sale = sale_of("Ostrel Gannet Hi, original box", "replacement box", market, tmp_path)
    assert (sale["box"], sale["box_origin"]) == ("original", "title")


@pytest.mark.parametrize(
    ("title", "notes"),
    [("original box", "replacement box"), ("no flaws", "heel drag"), ("first run", "second run")],
)
def test_notes_that_contradict_the_title_flag_the_record(
    title: str, notes: str, market: Market, tmp_path: Path
) -> None:
    sale = sale_of(f"Ostrel Gannet Hi, {title}", notes, market, tmp_path)
    assert (sale["flags"], sale["held_out"]) == (["title and notes disagree"], False)


def test_defects_that_title_and_notes_name_are_put_together(market: Market, tmp_path: Path) -> None:
    sale = sale_of("Ostrel Gannet Hi, yellowed", "heel drag", market, tmp_path)
    assert (sale["defects"], sale["flags"]) == (["yellowing", "heel wear"], [])


def test_a_colourway_of_another_silhouette_in_the_notes_does_not_count(
    market: Market, tmp_path: Path
) -> None:
    assert sale_of("Ostrel Gannet Hi", "Kelp laces", market, tmp_path)["colourway"] is None


def test_a_row_without_title_and_notes_is_read(market: Market, tmp_path: Path) -> None:
    assert sale_of("", "", market, tmp_path)["silhouette"] is None


def test_a_misspelt_name_in_the_notes_is_listed(market: Market, tmp_path: Path) -> None:
    row = "1;A pair;05.03.2021;600,00;zugeschlagen;;Ganet Hi"
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        [file] = ingest(ledger, market, [write_holm(tmp_path, row)]).files
    assert [(one.written, one.taken_as) for one in file.taken] == [("ganet", "Gannet Hi")]
