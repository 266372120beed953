"""Propose an export map from a file's headers and values, for the owner to edit."""

import json
import re
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.config import Market
from pipeline.ingest.guesses import guess_fields
from pipeline.ingest.header_words import STATUS_WORDS
from pipeline.ingest.names import CLOSED_FIELDS, allowed_words, closed_words, read_names
from pipeline.ingest.personal import personal_columns
from pipeline.ingest.readers import Hints, TextTable, read_tables
from pipeline.ingest.readers.export import open_export
from pipeline.ingest.settings import Question, Setting, likely_language, read_settings
from pipeline.schema import COLUMN, STATUSES

LEAST_CONFIDENCE = 0.35
"""A column below it is left to the owner."""

_RIVAL_WITHIN = 0.1
_MOST_WORDS = 20
_LONGEST_EXAMPLE = 40


@dataclass(frozen=True)
class ColumnProposal:
    """What a column is taken to be (None: nothing), how surely, an example, and what is left open."""

    column: str
    field: str | None
    confidence: float
    example: str
    remark: str = ""


@dataclass(frozen=True)
class MapProposal:
    """An export map as far as a file shows it.

    `settings` are the keys that were decided, `questions` those that were not. `words` holds, by field
    (status, box, ...), each word of the field's column with what it means, or None where the owner must say.
    """

    name: str
    files: str
    columns: tuple[ColumnProposal, ...]
    settings: tuple[Setting, ...]
    questions: tuple[Question, ...]
    words: dict[str, dict[str, str | None]]

    def to_toml(self) -> str:
        """Return the proposal as TOML to append to a market file, with comments on what to decide."""
        lines = [f"# A proposal for {_plain(self.files)}: look at every line.", f"[maps.{self.name}]"]
        for question in self.questions:
            choices = " or ".join(map(_quoted, question.choices)) or "..."
            lines += [f"# {question.key}: {_plain(question.why)}", f"# {question.key} = {choices}"]
        lines.append(f"files = {_quoted(self.files)}")
        lines += [f"{each.key} = {_quoted(each.value)}  # {_plain(each.why)}" for each in self.settings]
        lines += ["", f"[maps.{self.name}.columns]", *map(_column_line, self.columns)]
        for field, words in self.words.items():
            table = "status_words" if field == "status" else f"words.{field}"
            allowed = STATUSES if field == "status" else COLUMN[field].allowed or ()
            lines += ["", f"[maps.{self.name}.{table}]"]
            lines += [
                f"{_quoted(word)} = {_quoted(meaning)}"
                if meaning is not None
                else f"# {_quoted(word)} = ...  # {', '.join(allowed)}?"
                for word, meaning in words.items()
            ]
        return "\n".join(lines) + "\n"


def propose_map(path: Path, market: Market) -> MapProposal:
    """Propose an export map for a file; nothing is decided that the whole column does not tell.

    Of several sheets the longest is looked at. Raises ExportError where the file cannot be read.
    """
    tables = read_tables(open_export(path), Hints())
    table = max(tables, key=lambda each: each.cells.height)
    language = likely_language(table)
    columns = _columns(table, market, language)
    by_field = {column.field: column.column for column in columns if column.field is not None}
    said = read_settings(path, table, market, by_field, language)
    return MapProposal(
        name=re.sub(r"[^a-z0-9]+", "_", path.stem.lower()).strip("_") or "export",
        files=re.sub(r"\d+([-_.]\d+)*", "*", path.stem) + path.suffix,
        columns=columns,
        settings=tuple(each for each in said if isinstance(each, Setting)),
        questions=tuple(each for each in said if isinstance(each, Question)),
        words=_words(table, market, by_field),
    )


def _columns(table: TextTable, market: Market, language: str) -> tuple[ColumnProposal, ...]:
    """Return what each column is taken to be: the surest guess first, each field and column once."""
    personal = personal_columns(table.cells)
    guesses = guess_fields(table.cells.drop(personal), market, language)
    taken: dict[str, tuple[str, float]] = {}
    given: set[str] = set()
    for guess in guesses:
        if guess.column not in taken and guess.field not in given and guess.confidence >= LEAST_CONFIDENCE:
            taken[guess.column] = (guess.field, guess.confidence)
            given.add(guess.field)
    proposals = []
    for name in table.cells.columns:
        if name in personal:
            proposals.append(
                ColumnProposal(name, None, 0.0, "", "it looks like personal data, so ingest drops it")
            )
            continue
        field, confidence = taken.get(name, (None, 0.0))
        rivals = [
            guess.field
            for guess in guesses
            if guess.column == name and guess.field != field and guess.confidence > confidence - _RIVAL_WITHIN
        ]
        remark = f"it may also be {' or '.join(rivals[:2])}" if rivals and field is not None else ""
        proposals.append(ColumnProposal(name, field, confidence, _example(table.cells[name]), remark))
    return tuple(proposals)


def _example(values: pl.Series) -> str:
    known = values.drop_nulls()
    return "" if known.len() == 0 else str(known.mode().sort()[0])[:_LONGEST_EXAMPLE]


def _words(table: TextTable, market: Market, by_field: dict[str, str]) -> dict[str, dict[str, str | None]]:
    """Return the words of the status column, and those of other columns that mean nothing yet."""
    found: dict[str, dict[str, str | None]] = {}
    if "status" in by_field:
        read = read_names(table.cells[by_field["status"]], allowed_words((), STATUS_WORDS))
        found["status"] = dict(read.head(_MOST_WORDS).rows())
    for field in CLOSED_FIELDS:
        if field in by_field:
            read = read_names(table.cells[by_field[field]], closed_words(market, field))
            unknown = read.filter(pl.col("value").is_null())
            found[field] = dict(unknown.head(_MOST_WORDS).rows())
    return {field: words for field, words in found.items() if words}


def _column_line(column: ColumnProposal) -> str:
    remark = f"; {column.remark}" if column.remark and column.example else column.remark
    note = _plain((f"such as {column.example!r}" if column.example else "") + remark)
    if column.field is None:
        return f"# not read: {_quoted(column.column)} ({note or 'it is empty'})"
    return f"{column.field} = {_quoted(column.column)}  # {column.confidence:.0%}{', ' if note else ''}{note}"


def _plain(text: str) -> str:
    """Return a text that can stand in a TOML comment."""
    return re.sub(r"[\x00-\x1f\x7f]", " ", text)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
