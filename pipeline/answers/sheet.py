"""What an answer says, once: key figures, sentences, titled tables and warnings, read by every way of showing it.

An answer's `tables.py` makes a `Sheet`. The terminal prints it, a page sets its tables, and CSV, workbook and
notebook take the tables' rows. How a value is written is declared with its column, nowhere else.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Self

import polars as pl

from pipeline import formats
from pipeline.schema import UNKNOWN

if TYPE_CHECKING:
    from pipeline.market.fitted_market import Source

NONE = "–"
"""What stands where there is no value."""

NOT_KNOWN = "not known"
"""What stands for an attribute of a pair that nobody stated; in the records it is UNKNOWN."""


class Detail(str):
    """A sentence, warning or note that the terminal shows only with --details; everywhere else it is a text."""

    __slots__ = ()


class Brief(str):
    """A sentence or warning that the terminal shows in place of details, so not with --details."""

    __slots__ = ()


@dataclass(frozen=True)
class Column:
    """One column of a table: its key in the rows, its heading, how a value is written, whether it is a number.

    Numbers stand flush right. A value that is missing is written as NONE. A column whose text depends on more of
    the row has `describe`, which writes the text of a row (one mapping a row) instead.

    In the terminal a column that is a `detail` is shown only with --details, and one that is `cut` keeps to one line
    (the first of its text, its end an ellipsis where it is too long) unless there are details.
    """

    key: str
    heading: str
    write: Callable[[Any], str] = str
    number: bool = False
    describe: Callable[[Mapping[str, Any]], str] | None = None
    detail: bool = False
    cut: bool = False

    def text(self, row: Mapping[str, Any]) -> str:
        """Return the column's value in a row as people read it."""
        if self.describe is not None:
            return self.describe(row)
        return NONE if row[self.key] is None else self.write(row[self.key])


@dataclass(frozen=True)
class Table:
    """A titled table: typed rows (one column a `Column`, and more where a reader of data wants them).

    `key` is unique in its sheet. `note` is a sentence under it. The terminal shows a table that is a `detail` only
    with --details, one that is `brief` in place of details, and of others at most the `first` rows without.
    """

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: pl.DataFrame
    note: str = ""
    detail: bool = False
    brief: bool = False
    first: int | None = None

    def texts(self) -> list[tuple[str, ...]]:
        """Return the rows as people read them, in the order of the columns."""
        return [tuple(column.text(row) for column in self.columns) for row in self.rows.iter_rows(named=True)]

    def texts_of(self, key: str) -> list[str]:
        """Return the values of one column as people read them."""
        return [text for (text,) in self.showing(key).texts()]

    def text_columns(self, **named: str) -> list[pl.Series]:
        """Return columns of texts by name, each of the column of the table with that key."""
        return [pl.Series(name, self.texts_of(key), pl.String) for name, key in named.items()]

    def showing(self, *keys: str) -> Self:
        """Return the table with only these columns, in this order; its rows stay whole."""
        by_key = {column.key: column for column in self.columns}
        return replace(self, columns=tuple(by_key[key] for key in keys))

    def marked(self, *, detail: Sequence[str] = (), cut: Sequence[str] = ()) -> Self:
        """Return the table with the columns of those keys marked as details, or as cut to one line."""
        columns = (
            replace(column, detail=column.key in detail, cut=column.key in cut) for column in self.columns
        )
        return replace(self, columns=tuple(columns))

    def as_detail(self) -> Self:
        """Return the table as one that the terminal shows only with --details."""
        return replace(self, detail=True)


@dataclass(frozen=True)
class Sheet:
    """An answer in words and tables, the answer itself first.

    `figures` are the few numbers that answer the question, each (name, value as people read it). `sentences` say
    them in words; `warnings` what to be careful of; `source` where the numbers come from. `weak` is the warning that
    stands before the figures where they are in doubt. What is no part of the answer is marked as a detail.
    """

    title: str
    figures: tuple[tuple[str, str], ...] = ()
    sentences: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    warnings: tuple[str, ...] = ()
    source: str = ""
    weak: str = ""

    def table(self, key: str) -> Table:
        """Return the table of that key."""
        return next(table for table in self.tables if table.key == key)


def known(value: str) -> str:
    """Return the value of an attribute as people read it."""
    return NOT_KNOWN if value == UNKNOWN else value


def words(key: str, heading: str) -> Column:
    """Return a column of text."""
    return Column(key, heading)


def count(key: str, heading: str) -> Column:
    """Return a column of whole numbers: 5,321."""
    return Column(key, heading, formats.count, number=True)


def day(key: str, heading: str) -> Column:
    """Return a column of days: 3 May 2024."""
    return Column(key, heading, formats.day)


def estimate(key: str, heading: str, currency: str, locale: str = formats.LANGUAGE) -> Column:
    """Return a column of estimated amounts, to three figures: €1,230."""
    return Column(key, heading, lambda value: formats.estimate(value, currency, locale), number=True)


def amount(key: str, heading: str, currency: str) -> Column:
    """Return a column of recorded amounts, to the whole unit: €1,234."""
    return Column(key, heading, lambda value: formats.amount(value, currency), number=True)


def change(key: str, heading: str, currency: str, price: float = formats.SMALL) -> Column:
    """Return a column of differences of amounts: +€140, −€6; to the unit unless `price` is small."""
    return Column(key, heading, lambda value: formats.change(value, currency, price=price), number=True)


def difference(key: str, heading: str, currency: str) -> Column:
    """Return a column of differences of recorded amounts, to the whole unit: +€1,234, −€6."""
    return Column(key, heading, lambda value: formats.gain(value, currency), number=True)


def factor(key: str, heading: str) -> Column:
    """Return a column of factors on a price, as changes: +12 %, ×3.1."""
    return Column(key, heading, formats.percent_change, number=True)


def share(key: str, heading: str) -> Column:
    """Return a column of signed shares: +12 %, −0.4 %."""
    return Column(key, heading, formats.share, number=True)


def level(key: str, heading: str, locale: str = formats.LANGUAGE) -> Column:
    """Return a column of shares without a sign: 80 %."""
    return Column(key, heading, lambda value: formats.level(value, locale), number=True)


def decimal(key: str, heading: str, decimals: int) -> Column:
    """Return a column of numbers with so many decimals."""
    return Column(key, heading, lambda value: f"{value:,.{decimals}f}", number=True)


def table(
    key: str,
    title: str,
    columns: Sequence[Column],
    rows: pl.DataFrame | Sequence[Mapping[str, Any]],
    note: str = "",
) -> Table:
    """Return a table of a frame, or of one mapping a row."""
    frame = rows if isinstance(rows, pl.DataFrame) else _frame(columns, rows)
    return Table(key, title, tuple(columns), frame, note)


def source_words(source: "Source") -> str:
    """Return the sentence that says where an answer's numbers come from."""
    return (
        f"From {source.sales}, {formats.day(source.first_sale)} to "
        f"{formats.day(source.last_sale)}; "
        f"fit {source.fit_id}, pairband {source.version}."
    )


def _frame(columns: Sequence[Column], rows: Sequence[Mapping[str, Any]]) -> pl.DataFrame:
    if not rows:
        return pl.DataFrame({column.key: [] for column in columns})
    return pl.DataFrame([dict(row) for row in rows], infer_schema_length=None)
