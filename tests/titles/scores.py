"""Precision and recall of what is read from titles, attribute by attribute."""

from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.config import Market
from pipeline.ingest.attributes import read_stated
from pipeline.ingest.titles import read_titles
from pipeline.schema import SOURCE_FIELDS

HERE = Path(__file__).parent
LISTS = ("parts", "defects", "treatments")


@dataclass(frozen=True)
class Score:
    """How one attribute was read: `right` of `labelled` values, and `read` values in all."""

    attribute: str
    labelled: int
    read: int
    right: int

    @property
    def precision(self) -> float:
        """Return the share of what was read that is right."""
        return self.right / self.read if self.read else 1.0

    @property
    def recall(self) -> float:
        """Return the share of what was labelled that was read."""
        return self.right / self.labelled if self.labelled else 1.0


def labelled_titles(*names: str) -> pl.DataFrame:
    """Return the titles of the files, every label as text; an empty cell is ""."""
    files = [pl.read_csv(HERE / f"{name}.csv", infer_schema=False) for name in names]
    return pl.concat(files).with_columns(pl.all().fill_null(""))


def with_signed_grades(market: Market) -> Market:
    """Return the market with grade words that differ by their signs only, as dealers write them."""
    signed = {"LS": 8.0, "LS+": 9.0, "GG": 7.0, "GG-": 6.0, "A": 9.0, "B": 7.0, "A/B": 8.0, "VG": 8.0}
    words = market.words.model_copy(update={"grades": market.words.grades | signed})
    return market.model_copy(update={"words": words})


def labelled_cells() -> list[tuple[str, str, str]]:
    """Return field, cell and label ("": nothing can be read) of the labelled cells."""
    return pl.read_csv(HERE / "cells.csv", infer_schema=False).fill_null("").rows()


def read_cell(field: str, cell: str, market: Market) -> str:
    """Return what is read in a cell, as text; "" where nothing is."""
    fields = pl.DataFrame(
        {name: [cell if name == field else None] for name in SOURCE_FIELDS},
        schema=dict.fromkeys(SOURCE_FIELDS, pl.String),
    )
    value = read_stated(fields, market, list_mark=";", words={}, fix_typos=True)[field]["value"][0]
    return "" if value is None else str(value)


def score_titles(labelled: pl.DataFrame, market: Market) -> list[Score]:
    """Return the score of every attribute; each name of a list counts as a value, as does "there are none"."""
    titles = read_titles(labelled["title"], market).with_columns(era=pl.coalesce("era", "years_era"))
    read = labelled.select("title").join(titles, on="title", how="left", maintain_order="left")
    return [_score(name, labelled[name], read[name]) for name in labelled.columns if name != "title"]


def _score(name: str, labels: pl.Series, values: pl.Series) -> Score:
    expected = [_label_values(name, label) for label in labels]
    found = [_read_values(value) for value in values.to_list()]
    return Score(
        name,
        labelled=sum(map(len, expected)),
        read=sum(map(len, found)),
        right=sum(len(one & other) for one, other in zip(expected, found, strict=True)),
    )


def _label_values(name: str, label: str) -> set[str]:
    if name == "grade" and label:
        return {str(float(label))}
    return set(label.split(";")) if label else set()


def _read_values(value: object) -> set[str]:
    if isinstance(value, list):
        return set(value) or {"[]"}
    return set() if value is None else {str(value)}
