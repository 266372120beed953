"""A proposed map rests on what a file holds: neither the order of rows nor of columns, and no odd cell, does."""

import csv
from contextlib import suppress
from functools import cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.config import load_market
from pipeline.errors import PairbandError
from pipeline.ingest.proposal import MapProposal, propose_map

MARKET = load_market(Path(__file__).parents[1] / "market.toml")
HEADINGS = (
    "Los", "Bezeichnung", "Datum", "Zuschlag", "Aufgeld", "Summe", "Stand", "Größe", "Zustand", "MwSt", "Price",
    "sold_on", "状態", "", "Netto", "x",
)  # fmt: skip
CELLS = st.one_of(
    st.sampled_from(
        ["", "1", "43", "43,5", "80,00", "1.200,00", "04.03.2021", "2021-03-04", "sold", "zurück", "Gannet Hi",
         "8/10", "19%", "€ 5", "-12,00", "120 - 180", "12 mrt 2022", "=1+1", "\\50,636", "★★★★☆"]
    ),
    st.text(max_size=12),
)  # fmt: skip
ROWS = [
    [
        str(lot),
        f"Gannet Hi, Kelp {lot}",
        f"{10 + lot}.03.2021",
        f"{60 + 7 * lot},00",
        f"{15 + lot},00",
        "zugeschlagen",
        "43",
    ]
    for lot in range(1, 12)
]
HEADER = ["Los", "Bezeichnung", "Datum", "Zuschlag", "Aufgeld", "Stand", "Größe"]


def proposed(header: list[str], rows: list[list[str]]) -> MapProposal:
    """Return the map that is proposed for a file of these cells."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "harbour_2021.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, delimiter=";").writerows([header, *rows])
        return propose_map(path, MARKET)


def said(proposal: MapProposal) -> tuple[object, ...]:
    """Return a proposal without the order of its columns."""
    return (
        *sorted(proposal.columns, key=lambda one: one.column),
        proposal.settings,
        proposal.questions,
        proposal.words,
    )


@cache
def as_it_stands() -> tuple[object, ...]:
    """Return what is said of the file with its rows and columns in their own order."""
    return said(proposed(HEADER, ROWS))


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000))
def test_the_order_of_rows_changes_nothing(seed: int) -> None:
    shuffled = list(ROWS)
    Random(seed).shuffle(shuffled)
    assert said(proposed(HEADER, shuffled)) == as_it_stands()


@settings(max_examples=10, deadline=None)
@given(st.permutations(range(len(HEADER))))
def test_the_order_of_columns_changes_nothing(order: list[int]) -> None:
    moved = proposed([HEADER[at] for at in order], [[row[at] for at in order] for row in ROWS])
    assert said(moved) == as_it_stands()


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_no_odd_cell_or_heading_stops_a_proposal(data: st.DataObject) -> None:
    header = data.draw(
        st.lists(st.one_of(st.sampled_from(HEADINGS), st.text(max_size=8)), min_size=1, max_size=7)
    )
    rows = data.draw(st.lists(st.lists(CELLS, min_size=len(header), max_size=len(header)), max_size=8))
    with suppress(PairbandError):
        assert "[maps.harbour_2021]" in proposed(header, rows).to_toml()
