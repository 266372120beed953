"""A change of the market file changes what it is of, and no other value, comment or line."""

import re
from collections.abc import Iterator
from copy import deepcopy
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.desk.market_file.edit import Change, edited, value_at
from pipeline.desk.market_file.fields import shape_at
from pipeline.desk.market_file.form import filled_in, read_answers
from pipeline.desk.market_file.layout import Layout
from pipeline.toml_text import parse_toml

ROOT = Path(__file__).parents[2]
FILES = ("sample_data/market.toml", "pipeline/starter.toml", "tests/market.toml")
TEXTS = [(ROOT / name).read_text(encoding="utf-8") for name in FILES]


def tables_of(text: str) -> Any:
    return parse_toml(text, where="the text")


def paths_of(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Yield the paths of all single values."""
    if isinstance(value, dict | list):
        steps = value if isinstance(value, dict) else range(len(value))
        for step in steps:
            yield from paths_of(value[step], (*path, step))
    else:
        yield path


def comments_of(text: str) -> list[str]:
    """Return the comments of a text that stand on lines of their own, or behind a header."""
    return re.findall(r"(?m)^(?:\[.*\])?[ \t]*(#.*)$", text)


def other_value(value: Any, draw: st.DrawFn) -> Any:
    match value:
        case bool():
            return not value
        case str():
            return draw(st.text(st.characters(exclude_categories=["Cs"]), max_size=30))
        case date():
            return draw(st.dates())
    return draw(st.integers(-1000, 1000) | st.decimals(-1000, 1000, places=2))


@st.composite
def changes(draw: st.DrawFn) -> tuple[str, tuple[str | int, ...], Any]:
    """Draw a market file's text, the path of one of its values, and another value of its type."""
    text = draw(st.sampled_from(TEXTS))
    tables = tables_of(text)
    path = draw(st.sampled_from(list(paths_of(tables))))
    return text, path, other_value(value_at(tables, path), draw)


@given(changes())
def test_another_value_leaves_all_others_and_all_comments(change: tuple[str, Any, Any]) -> None:
    text, path, value = change
    wanted = deepcopy(tables_of(text))
    owner = value_at(wanted, path[:-1])
    owner[path[-1]] = value
    after = edited(text, Change("put", path, value))
    assert tables_of(after) == wanted
    assert comments_of(after) == comments_of(text)


@given(changes())
def test_a_change_taken_back_gives_the_very_text_but_for_how_its_value_was_written(
    change: tuple[str, Any, Any],
) -> None:
    text, path, value = change
    before = value_at(tables_of(text), path)
    back = edited(edited(text, Change("put", path, value)), Change("put", path, before))
    span = Layout.of(text).value(path)
    assert span is not None
    assert back[: span.start] == text[: span.start]
    assert back.endswith(text[span.end :])


@pytest.mark.parametrize("text", TEXTS, ids=FILES)
def test_every_value_is_found_where_it_is_written(text: str) -> None:
    tables, layout = tables_of(text), Layout.of(text)
    for path in paths_of(tables):
        span = layout.value(path)
        assert span is not None
        assert tables_of(f"one = {text[span.start : span.end]}")["one"] == value_at(tables, path)


LISTS = [
    ("eras",),
    ("venues",),
    ("venues", 0, "fees"),
    ("silhouettes",),
    ("silhouettes", 0, "colourways"),
    ("eras", 0, "phrases"),
    ("treatments",),
]


@given(st.sampled_from(TEXTS), st.sampled_from(LISTS), st.randoms(use_true_random=False))
def test_an_entry_removed_leaves_every_other_line_in_its_order(text: str, path: Any, chance: Any) -> None:
    entries = value_at(tables_of(text), path)
    number = chance.randrange(len(entries))
    after = edited(text, Change("remove", (*path, number)))
    left = [one for one in entries if one is not entries[number]]
    assert (value_at(tables_of(after), path) or []) == left
    lines = iter(text.splitlines())
    whole = [line for line in after.splitlines() if line not in text.splitlines()]
    assert len(whole) <= 1  # the line that a list on one line stands on
    assert all(line in lines for line in after.splitlines() if line not in whole)


@given(st.sampled_from(TEXTS), st.sampled_from(LISTS), st.randoms(use_true_random=False))
def test_an_entry_moved_up_and_its_neighbour_moved_up_again_is_where_it_was(
    text: str, path: Any, chance: Any
) -> None:
    entries = value_at(tables_of(text), path)
    if len(entries) > 1:
        number = chance.randrange(1, len(entries))
        moved = edited(text, Change("move up", (*path, number)))
        assert tables_of(moved) != tables_of(text)
        assert tables_of(edited(moved, Change("move up", (*path, number)))) == tables_of(text)


WORDS = st.lists(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12), max_size=8)


@given(st.sampled_from(TEXTS), WORDS)
def test_a_list_of_words_becomes_what_the_owner_writes(text: str, words: list[str]) -> None:
    for path in (("eras", 1, "phrases"), ("words", "not_words"), ("words", "not_a_pair")):
        after = edited(text, Change("put", path, words))
        assert value_at(tables_of(after), path) == words
        assert comments_of(after) == comments_of(text)


@given(changes(), st.booleans())
def test_a_file_with_the_line_ends_of_windows_keeps_them(
    change: tuple[str, Any, Any], multiline: bool
) -> None:
    text, path, value = change
    if isinstance(value, str):
        value = value.replace("\r", "")
    after = edited(text.replace("\n", "\r\n"), Change("put", path, value))
    assert value_at(tables_of(after), path) == value
    assert after.count("\n") == after.count("\r\n")


VALUES = st.recursive(
    st.integers(-9, 9) | st.booleans() | st.text("ab#\"'[]{},=\\\n. ", max_size=6),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text('ab. #"', max_size=3), inner, max_size=3)
    ),
    max_leaves=12,
)
TABLES = st.dictionaries(st.text("abc", min_size=1, max_size=2), VALUES, max_size=4)


@given(st.sampled_from(TEXTS), TABLES, TABLES)
def test_any_table_can_be_put_in_and_changed_into_any_other(
    text: str, first: dict[str, Any], then: dict[str, Any]
) -> None:
    with_first = edited(text, Change("put", ("venues", 0, "noted"), first))
    with_then = edited(with_first, Change("put", ("venues", 0, "noted"), then))
    lines = iter(with_then.splitlines())
    assert all(line in lines for line in text.splitlines())
    assert edited(with_then, Change("put", ("venues", 0, "noted"), then)) == with_then


@pytest.mark.parametrize("text", TEXTS, ids=FILES)
def test_a_form_sent_back_as_it_was_changes_nothing(text: str) -> None:
    tables = tables_of(text)
    paths: list[tuple[str | int, ...]] = [()]
    while paths:
        path = paths.pop()
        held, shape = value_at(tables, path), shape_at(path)
        if shape.kind == "table":
            posted = {name: one.replace("\n", "\r\n") for name, one in filled_in(shape, held).items()}
            assert read_answers(shape, posted, held).table == held, path
            paths += [
                (*path, key) for key in held if shape_at((*path, key)).kind in ("rows", "table", "by name")
            ]
        elif shape.kind == "rows":
            paths += [(*path, number) for number in range(len(held))]
        elif shape.of is not None and shape.of.kind == "table":
            paths += [(*path, key) for key in held]


@given(st.decimals(0, 10**6, places=2))
def test_an_amount_in_a_form_is_the_amount_in_the_file(amount: Decimal) -> None:
    text = TEXTS[0]
    fees = value_at(tables_of(text), ("venues", 0, "fees", 1))
    shape = shape_at(("venues", 0, "fees", 1))
    posted = filled_in(shape, fees) | {"minimum": f"{amount:f}"}
    made = read_answers(shape, posted, fees).table
    assert made.get("minimum", Decimal(0)) == amount
    assert {key: one for key, one in made.items() if key != "minimum"} == {
        key: one for key, one in fees.items() if key != "minimum"
    }
