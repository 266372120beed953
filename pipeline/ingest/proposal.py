"""Propose an export map from a file's headers and values, for the owner to edit."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Literal, NamedTuple

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.ingest.account import Account, read_account
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.grades import read_grades
from pipeline.ingest.guesses import Guess, guess_fields, shared_fields
from pipeline.ingest.header_words import STOCK_WORDS
from pipeline.ingest.heading_meaning import PART, spellings, written
from pipeline.ingest.names import CLOSED_FIELDS, closed_words, read_names
from pipeline.ingest.own_columns import map_of_own_columns
from pipeline.ingest.personal import personal_columns
from pipeline.ingest.readers import Hints, TextTable, read_tables
from pipeline.ingest.readers.export import open_export
from pipeline.ingest.row_kinds import lay_out, order_columns
from pipeline.ingest.settings import Question, Setting, likely_currency, likely_language, read_settings
from pipeline.ingest.status_meaning import YES_OR_NO, status_of
from pipeline.schema import COLUMN, ENDINGS, QUANTITY

LEAST_CONFIDENCE = 0.35
"""A column below it is left to the owner."""

LOOKED_AT = 20_000
"""How many rows of a file are looked at, taken evenly from all of them."""

_ASKED_FIELDS = ("price_native", "sold_on", "title")
"""The fields whose column is asked for where none was found: a sale cannot do without them."""

Holds = Literal["sales", "stock", "lots"]


class _OfList(NamedTuple):
    """What stands in a list where an export of sales has the day and the price of a sale."""

    day: str
    day_asked: str
    amount_asked: str
    basis: str
    basis_why: str
    holds_why: str


_OF_LISTS = {
    "stock": _OfList(
        "bought_on",
        "which column is the day on which you bought it?",
        "which column is what a pair has cost you?",
        "all-in",
        "what a pair has cost you",
        "a list of your stock, not of past sales",
    ),
    "lots": _OfList(
        "closed_on",
        "which column is the day on which the lot closes?",
        "which column is the present bid?",
        "hammer",
        "the present bid",
        "lots to come, not past sales",
    ),
}
_DAYS = ("sold_on", "closed_on", "offered_on")
_OF_SALES = ("price_basis", "quantity_price", "tax", "tax_rate", "tax_column", "price_native", *_DAYS)
"""The settings and questions that are of sales alone."""

_NO_HINTS = Hints()
_RIVAL_WITHIN = 0.1
_MOST_WORDS = 20
_WRITTEN_ONCE = "only the first line of an order fills them"
_OF_A_LIST = "its members are the rows; what stands around them is on each"
_LONGEST_EXAMPLE = 40
_MOST_SAMPLES = 3


@dataclass(frozen=True)
class ColumnProposal:
    """What a column is taken to be (None: nothing), how surely, an example, why, and a few cells of it."""

    column: str
    field: str | None
    confidence: float
    example: str
    remark: str = ""
    samples: tuple[str, ...] = ()


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
        of_columns = [question for question in self.questions if question.key in _ASKED_FIELDS]
        for question in self.questions:
            lines += [] if question in of_columns else _asked(question)
        lines.append(f"files = {_quoted(self.files)}")
        lines += [f"{each.key} = {_value(each.value)}  # {_plain(each.why)}" for each in self.settings]
        lines += ["", f"[maps.{self.name}.columns]"]
        lines += [line for question in of_columns for line in _asked(question)]
        lines += map(_column_line, self.columns)
        for field, words in self.words.items():
            table = "status_words" if field == "status" else f"words.{field}"
            lines += ["", f"[maps.{self.name}.{table}]"]
            lines += [
                f"{_quoted(word)} = {_quoted(meaning)}"
                if meaning is not None
                else f"# {_quoted(word)} = ...  # {', '.join(meanings_of(field))}?"
                for word, meaning in words.items()
            ]
        return "\n".join(lines) + "\n"


def meanings_of(field: str) -> tuple[str, ...]:
    """Return what a word of a field's column can mean."""
    if field == "grade":
        return ("a grade from 1 to 10",)
    return ENDINGS if field == "status" else COLUMN[field].allowed or ()


def propose_map(
    path: Path,
    market: Market,
    holds: Holds = "sales",
    hints: Hints = _NO_HINTS,
    chosen: Mapping[str, str] | None = None,
) -> MapProposal:
    """Propose an export map for a file; nothing is decided that the whole column does not tell.

    Of several sheets the longest is looked at. Neither the order of its rows nor that of its columns changes what
    is proposed. `holds` says if the file is of past sales, of the owner's stock or of lots to come, `hints` how it is
    laid out where the owner says it. `chosen` is the column of each field as the owner says; settings, questions and
    words then follow those. Raises ExportError where the file cannot be read, MapError where a sheet is not there.
    """
    proposal = _propose(path, market, holds, hints, chosen)
    if holds == "sales":
        return proposal
    listed = _as_list(proposal, holds, is_chosen=chosen is not None)
    return _of_own_money(listed, market) if holds == "stock" else listed


def propose_likely_map(path: Path, market: Market, said: Holds | None) -> tuple[Holds, MapProposal]:
    """Return what a file holds and what `propose_map` proposes for it; `said` is what the owner says that it holds."""
    if said is not None:
        return said, propose_map(path, market, said)
    proposal = propose_map(path, market)
    holds = likely_holds(proposal)
    return holds, proposal if holds == "sales" else propose_map(path, market, holds)


def likely_holds(proposal: MapProposal) -> Holds:
    """Return what a file holds of which the owner has not said it, by what is proposed for it as one of sales.

    It is a stock list where headings say when or for how much a pair was bought, and none what it was sold for; or
    where they say both, and none when it was sold.
    """
    headings = _stock_headings(proposal.columns)
    bought = {"bought_on", "price_native"} & set(headings.values())
    has_price = all(each.key != "price_native" for each in proposal.questions)
    has_day = any(one.field == "sold_on" and one.column not in headings for one in proposal.columns)
    return "stock" if (bought and not has_price) or (len(bought) == 2 and not has_day) else "sales"


def _stock_headings(columns: tuple[ColumnProposal, ...]) -> dict[str, str]:
    """Return the columns whose heading says what they are in a stock list, each with its field, each field once."""
    found: dict[str, str] = {}
    for field, known in _stock_words().items():
        said = [one.column for one in columns if one.example and known & set(spellings(one.column))]
        found |= {column: field for column in said[:1] if column not in found}
    return found


@cache
def _stock_words() -> dict[str, frozenset[str]]:
    """Return for each field of a stock list the words for it, as headings are compared."""
    return {
        field: frozenset(form for word in words for form in spellings(word))
        for field, words in STOCK_WORDS.items()
    }


def _with_stock_words(columns: tuple[ColumnProposal, ...]) -> tuple[ColumnProposal, ...]:
    """Return the columns of a stock list, those whose heading says what they are in one as that."""
    found = _stock_headings(columns)
    taken = set(found.values())
    return tuple(
        replace(one, field=found[one.column], confidence=0.95, remark="so stock lists head it")
        if one.column in found
        else replace(one, field=None if one.field in taken else one.field)
        for one in columns
    )


def _as_list(proposal: MapProposal, holds: Literal["stock", "lots"], *, is_chosen: bool) -> MapProposal:
    """Return a proposal for sales as one for a list: its amount is a cost or a bid, and no offer has ended.

    Columns that the owner chose stay what they are.
    """
    which = _OF_LISTS[holds]
    columns: list[ColumnProposal] = []
    given = set[str | None]()
    has_day = holds == "stock" and any(one.field == which.day for one in proposal.columns)
    for one in proposal.columns:
        if is_chosen:
            columns.append(one)
            given.add(one.field)
            continue
        field = which.day if one.field in _DAYS and not has_day else one.field
        field = None if field == "sold_on" else field
        field = None if field in ("status", QUANTITY) or field in given else field
        given.add(field)
        columns.append(replace(one, field=field))
    free = tuple(sorted(one.column for one in columns if one.field is None and one.example))
    questions = [each for each in proposal.questions if each.key not in _OF_SALES]
    if which.day not in given:
        questions.append(Question(which.day, free, which.day_asked))
    if "price_native" not in given:
        questions.append(Question("price_native", free, which.amount_asked))
    kept = [each for each in proposal.settings if each.key not in _OF_SALES]
    return replace(
        proposal,
        columns=tuple(columns),
        settings=(
            *(Setting("holds", holds, which.holds_why), *kept),
            Setting("price_basis", which.basis, which.basis_why),
        ),
        questions=tuple(questions),
        words={field: words for field, words in proposal.words.items() if field != "status"},
    )


def _of_own_money(proposal: MapProposal, market: Market) -> MapProposal:
    """Return the proposal for a stock list, its costs in the owner's currency where nothing says another.

    Pairs in stock stand at no venue yet; the map's venue only says what amounts mean that name no currency.
    """
    asked = {each.key for each in proposal.questions}
    settings: list[Setting] = []
    if "venue" in asked:
        at_home = [one.name for one in market.venues if one.currency == market.base_currency]
        settings.append(
            Setting("venue", (*at_home, market.venues[0].name)[0], "a stock list is of none: any of yours")
        )
    if "currency" in asked:
        settings.append(Setting("currency", market.base_currency, "your own, where a cell names no other"))
    decided = {each.key for each in settings}
    return replace(
        proposal,
        settings=(*settings, *proposal.settings),
        questions=tuple(each for each in proposal.questions if each.key not in decided),
    )


def _propose(
    path: Path, market: Market, holds: Holds, hints: Hints, chosen: Mapping[str, str] | None
) -> MapProposal:
    """Return the proposal for a file, as one of sales but for the columns that only a stock list has."""
    tables = read_tables(open_export(path), hints)
    longest = max(tables, key=lambda each: each.cells.height)
    filled_down = order_columns(longest.cells)
    table = _in_one_order(lay_out(longest, None, where=str(path)))
    name = re.sub(r"[^a-z0-9]+", "_", path.stem.lower()).strip("_") or "export"
    files = re.sub(r"\d+([-_.]\d+)*", "*", path.stem) + path.suffix
    own = map_of_own_columns(table.cells, market, files)
    if own is not None and chosen is None:
        return _of_own_columns(own, name, table)
    language = likely_language(table)
    read = table.cells.drop(personal_columns(table.cells))
    account = read_account(read, numbers_are_plain=table.numbers_are_plain)
    currency = likely_currency(path, table, market)
    guesses = guess_fields(read, market, account, language=language, currency=currency)
    columns = _with_shared(_columns(table, read, guesses, account), read, market)
    if holds == "stock":
        columns = _with_stock_words(columns)
    if chosen is not None:
        account, columns = _with_price_of(account, chosen), _as_chosen(columns, chosen)
    by_field = {column.field: column.column for column in columns if column.field is not None}
    said = read_settings(path, table, market, by_field, account, language)
    return MapProposal(
        name=name,
        files=files,
        columns=columns,
        settings=(
            *(each for each in said if isinstance(each, Setting)),
            *([Setting("records", longest.records, _OF_A_LIST)] if longest.records is not None else []),
            *([Setting("fill_down", tuple(filled_down), _WRITTEN_ONCE)] if filled_down else []),
        ),
        questions=(*_without_columns(columns), *(each for each in said if isinstance(each, Question))),
        words=_words(table, market, by_field),
    )


def _with_price_of(account: Account, chosen: Mapping[str, str]) -> Account:
    """Return the amounts with the price and quantity that the owner chose; what was known of another price is not."""
    price, quantity = chosen.get("price_native"), chosen.get(QUANTITY)
    if price != account.price:
        account = Account(account.columns, price=price, ask=account.ask, quantity=quantity)
    if quantity != account.quantity:
        account = replace(account, quantity=quantity, quantity_price=None)
    return account


def _as_chosen(columns: tuple[ColumnProposal, ...], chosen: Mapping[str, str]) -> tuple[ColumnProposal, ...]:
    """Return each column once for every field that the owner reads from it, and once without where there is none."""
    known = {(one.column, one.field): one for one in columns}
    first = {one.column: one for one in reversed(columns)}
    return tuple(
        known.get((column, field)) or replace(one, field=field, confidence=0.0, remark="")
        for column, one in reversed(first.items())
        for field in tuple(field for field, name in chosen.items() if name == column) or (None,)
    )


def _in_one_order(table: TextTable) -> TextTable:
    """Return the table's rows in an order that rests on what they hold, and not more than are looked at."""
    cells = table.cells
    if cells.height > 1:
        order = cells.select(pl.struct(sorted(cells.columns)).rank("ordinal").alias("place"))
        cells = cells.with_columns(order["place"]).sort("place").drop("place")
    step = max(1, -(-cells.height // LOOKED_AT))
    cells = cells.gather_every(step)
    return TextTable(
        sheet=table.sheet,
        cells=cells,
        row_numbers=table.row_numbers.head(cells.height),
        faults=table.faults,
        notes=table.notes,
        numbers_are_plain=table.numbers_are_plain,
        encoding=table.encoding,
    )


def _of_own_columns(own: ExportMap, name: str, table: TextTable) -> MapProposal:
    """Return the map of an export with the columns of a sale record, as a proposal without questions."""
    by_column = {column: field for field, column in own.columns.items() if isinstance(column, str)}
    settings = [
        Setting(key, value, "the column of that name")
        for key in ("venue", "date_order", "decimal_mark", "price_basis", "currency")
        if isinstance(value := getattr(own, key), str)
    ]
    columns = tuple(
        ColumnProposal(
            column,
            by_column.get(column),
            0.98 if column in by_column else 0.0,
            _example(table.cells[column]),
            "a column of a sale record" if column in by_column else "worked out when it is read",
        )
        for column in table.cells.columns
    )
    return MapProposal(name, own.files, columns, tuple(settings), (), {})


def _columns(
    table: TextTable, read: pl.DataFrame, guesses: list[Guess], account: Account
) -> tuple[ColumnProposal, ...]:
    """Return what each column is taken to be: the surest guess first, each field and column once."""
    taken: dict[str, tuple[str | None, float, str]] = {}
    given: set[str] = set()
    for kind, amount, reason in (
        ("price_native", account.price, account.price_why),
        ("ask_native", account.ask, account.ask_why),
        (QUANTITY, account.quantity, "lines of several pairs"),
    ):
        if amount is not None and account.columns[amount].confidence >= LEAST_CONFIDENCE:
            taken[amount] = (kind, account.columns[amount].confidence, reason)
            given.add(kind)
    for guess in guesses:
        if guess.column not in taken and guess.field not in given and guess.confidence >= LEAST_CONFIDENCE:
            if guess.field == "closed_on" and not guess.by_heading and "sold_on" in given:
                continue
            taken[guess.column] = (guess.field, guess.confidence, guess.why)
            given.add(guess.field)
    if "status" not in given and account.basis != "hammer" and "sold_on" not in given:
        ends = [column for column, (field, *_) in taken.items() if field == "closed_on"]
        for column in ends:
            taken[column] = (
                "sold_on",
                taken[column][1],
                f"{taken[column][2]}; no column says that a row is no sale",
            )
    if "sale_ref" in given and not given & {"sold_on", "closed_on"}:
        for column, (field, confidence, why) in taken.items():
            if field == "offered_on":
                taken[column] = ("sold_on", confidence, f"{why}; the only day of an order")
    proposals = []
    for name in table.cells.columns:
        if name not in read.columns:
            remark = "it looks like personal data, so ingest drops it"
            proposals.append(ColumnProposal(name, None, 0.0, "", remark))
            continue
        field, confidence, why = taken.get(name, (None, 0.0, ""))
        rivals = [
            guess.field
            for guess in guesses
            if guess.column == name and guess.field != field and guess.confidence > confidence - _RIVAL_WITHIN
        ]
        if field is None and name in account.columns:
            why = account.columns[name].why
        also = f"it may also be {' or '.join(rivals[:2])}" if rivals and field is not None else ""
        remark = "; ".join(part for part in (why, also) if part)
        cells = table.cells[name]
        proposals.append(ColumnProposal(name, field, confidence, _example(cells), remark, _samples(cells)))
    return tuple(proposals)


def _with_shared(
    columns: tuple[ColumnProposal, ...], read: pl.DataFrame, market: Market
) -> tuple[ColumnProposal, ...]:
    """Return the columns, those whose cells hold several attributes once for each of them that no other column has."""
    proposals: list[ColumnProposal] = []
    given = {one.field for one in columns if one.field not in ("size_label", "grade", None)}
    for one in columns:
        by_values = one.field == "title" and one.confidence < PART
        may_share = one.column in read.columns and (one.field in (None, "size_label", "grade") or by_values)
        shared = shared_fields(read[one.column], market) if may_share else {}
        others = {other.field for other in columns if other is not one} | given
        fields = {field: share for field, share in shared.items() if field not in others}
        if len(fields) < 2:
            proposals.append(one)
            continue
        given |= set(fields)
        proposals += [
            replace(
                one, field=field, confidence=round(0.9 * share, 2), remark="its cells hold several attributes"
            )
            for field, share in fields.items()
        ]
    return tuple(proposals)


def _without_columns(columns: tuple[ColumnProposal, ...]) -> list[Question]:
    """Return a question for each column that a sale cannot do without, and that nothing was found for."""
    given = {one.field for one in columns}
    free = tuple(sorted(one.column for one in columns if one.field is None and one.example))
    asked = []
    if "price_native" not in given:
        asked.append(Question("price_native", free, "which column is the price of the sale?"))
    if not given & {"closed_on", "sold_on"}:
        asked.append(Question("sold_on", free, "which column is the day of the sale?"))
    if not given & {"title", "silhouette"}:
        asked.append(Question("title", free, "which column says what the pair is?"))
    return asked


def _example(values: pl.Series) -> str:
    known = values.drop_nulls()
    return "" if known.len() == 0 else str(known.mode().sort()[0])[:_LONGEST_EXAMPLE]


def _samples(values: pl.Series) -> tuple[str, ...]:
    distinct = values.drop_nulls().unique().sort()
    step = max(1, distinct.len() // _MOST_SAMPLES)
    return tuple(text[:_LONGEST_EXAMPLE] for text in distinct.gather_every(step).head(_MOST_SAMPLES))


def _words(table: TextTable, market: Market, by_field: dict[str, str]) -> dict[str, dict[str, str | None]]:
    """Return the words of the status column, and those of other columns that mean nothing yet."""
    found: dict[str, dict[str, str | None]] = {}
    shared = {column for column in by_field.values() if list(by_field.values()).count(column) > 1}
    if "status" in by_field:
        stated = distinct_texts(table.cells[by_field["status"]], "text")["text"].sort().head(_MOST_WORDS)
        found["status"] = {text: status_of(text) for text in stated}
        found["status"] |= dict.fromkeys(_not_yet(table, by_field), "open")
    for field in CLOSED_FIELDS:
        if field in by_field and by_field[field] not in shared:
            read = read_names(table.cells[by_field[field]], closed_words(market, field))
            unknown = read.filter(pl.col("value").is_null())
            found[field] = dict(unknown.head(_MOST_WORDS).sort("text").rows())
    if "grade" in by_field and by_field["grade"] not in shared:
        grades = read_grades(table.cells[by_field["grade"]], dict(market.words.grades))
        unread = grades.filter(pl.col("reason").is_not_null())["text"].sort().head(_MOST_WORDS)
        found["grade"] = dict.fromkeys(unread.to_list())
    return {field: words for field, words in found.items() if words}


def _not_yet(table: TextTable, by_field: dict[str, str]) -> list[str]:
    """Return the answers "no" to whether a pair was sold, of which no row has a day of the end: it is still offered."""
    ends = [by_field[field] for field in ("sold_on", "closed_on") if field in by_field]
    if not ends:
        return []
    rows = table.cells.select(
        pl.col(by_field["status"]).alias("word"), ended=pl.any_horizontal(pl.col(ends).is_not_null())
    ).drop_nulls("word")
    ended = rows.group_by("word").agg(pl.col("ended").any()).sort("word")
    return [
        word
        for word in ended.filter(~pl.col("ended"))["word"]
        if written(word) in YES_OR_NO and status_of(word) == "unsold"
    ]


def _asked(question: Question) -> list[str]:
    """Return a question as comments, the second of which is the line that answers it."""
    choices = " or ".join(map(_quoted, question.choices)) or "..."
    return [f"# {question.key}: {_plain(question.why)}", f"# {question.key} = {choices}"]


def _column_line(column: ColumnProposal) -> str:
    remark = f"; {column.remark}" if column.remark and column.example else column.remark
    note = _plain((f"such as {column.example!r}" if column.example else "") + remark)
    if column.field is None:
        return f"# not read: {_quoted(column.column)} ({note or 'it is empty'})"
    return f"{column.field} = {_quoted(column.column)}  # {column.confidence:.0%}{', ' if note else ''}{note}"


def _plain(text: str) -> str:
    """Return a text that can stand in a TOML comment."""
    return re.sub(r"[\x00-\x1f\x7f]", " ", text)


def _value(value: str | Decimal | tuple[str, ...]) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(map(_quoted, value))}]"
    return _quoted(value) if isinstance(value, str) else str(value)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
