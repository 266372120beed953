"""Precision and recall of what is read from titles, attribute by attribute."""

from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.config import Market
from pipeline.ingest.titles import read_titles

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


def score_titles(labelled: pl.DataFrame, market: Market) -> list[Score]:
    """Return the score of every attribute; each name of a list counts as a value, as does "there are none"."""
    read = labelled.select("title").join(
        read_titles(labelled["title"], market), on="title", how="left", maintain_order="left"
    )
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
