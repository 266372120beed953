"""The starter of the market file shows every key that a market file may have."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import AliasChoices, BaseModel

import pipeline
from pipeline.config import Market, parse_market
from pipeline.ingest.unfound import phrase_remarks

STARTER = (Path(pipeline.__file__).parent / "starter.toml").read_text(encoding="utf-8")


def tables_of(annotation: Any) -> Iterator[type[BaseModel]]:
    """Yield the tables that a key's value may hold."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from tables_of(part)


def keys_of(table: type[BaseModel], seen: set[type[BaseModel]]) -> Iterator[tuple[str, str]]:
    """Yield table and key of every key that may stand in a table and in those within it."""
    if table in seen:
        return
    seen.add(table)
    for name, field in table.model_fields.items():
        alias = field.validation_alias
        yield table.__name__, str(alias.choices[0]) if isinstance(alias, AliasChoices) else name
        for within in tables_of(field.annotation):
            yield from keys_of(within, seen)


@pytest.mark.parametrize(("table", "key"), list(keys_of(Market, set())))
def test_every_key_of_the_market_file_stands_in_the_starter(table: str, key: str) -> None:
    assert re.search(rf"(?<!\w){key}(?!\w)(?: =|:|\]|\.)", STARTER), f"{key} of {table}"


def test_the_starter_is_a_good_market_file_whose_phrases_can_all_be_found() -> None:
    assert phrase_remarks(parse_market(STARTER, where="starter.toml")) == ()
