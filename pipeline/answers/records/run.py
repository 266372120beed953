"""Find records in the ledger, and show one beside what its rows say."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import exp
from pathlib import Path
from typing import Literal

import polars as pl

from pipeline.alike import find_alike
from pipeline.answers.records.answer import (
    OneRecord,
    PairHistory,
    Record,
    Records,
    RemovedRow,
    WrittenSales,
    known_of,
    row_beside,
)
from pipeline.answers.review.run import keys_of_decisions
from pipeline.answers.stock.history import BOUGHT
from pipeline.answers.stock.run import pair_histories
from pipeline.config import Market
from pipeline.errors import FitError, PairError, UnknownName
from pipeline.hedonic.predict import predict
from pipeline.ingest.attributes import vocabulary
from pipeline.ingest.put_right import decisions, find_record, record_of, short_ids
from pipeline.ingest.same import find_keys
from pipeline.ingest.sizes import read_sizes
from pipeline.ledger import Ledger
from pipeline.outfile import write_folder
from pipeline.sales_files import write_sales
from pipeline.schema import SIZE_STEP_MM
from pipeline.workspace import Workspace

NAMED = ("silhouette", "colourway", "era", "title")
"""What names a pair."""


OrderBy = Literal["day", "pair", "price", "era", "size", "grade", "venue"]


@dataclass(frozen=True)
class Order:
    """By which column of the list records come, and from which end; what is not known comes last in either."""

    by: OrderBy
    descending: bool = False


NEWEST = Order("day", descending=True)


@dataclass(frozen=True)
class Wanted:
    """Which records are meant: every part that is not None must hold.

    Texts are the owner's words. `least` and `most` are in the base currency: of what was paid, or asked for what
    did not sell.
    """

    record_ids: tuple[str, ...] | None = None
    file_name: str | None = None
    venue: str | None = None
    silhouette: str | None = None
    era: str | None = None
    size: str | None = None
    least: float | None = None
    most: float | None = None
    since: date | None = None
    until: date | None = None
    said: str | None = None
    only_left_out: bool = False
    only_corrected: bool = False

    @property
    def is_everything(self) -> bool:
        """Whether nothing is asked for, so that every record is meant."""
        return self == Wanted()

    @property
    def is_one_file(self) -> bool:
        """Whether all records of one file are meant, and nothing else is asked for."""
        return self.file_name is not None and replace(self, file_name=None) == Wanted()


def find_records(
    ledger: Ledger,
    market: Market,
    wanted: Wanted,
    *,
    first: int | None,
    start: int = 0,
    order: Order = NEWEST,
) -> Records:
    """Return the records that match, at most so many of them, after the `start` that come before in the order.

    Where there are not so many, the last page is returned. Raises UnknownName and PairError for words.
    """
    bound = _bound(ledger, market, wanted) | {
        "order_by": order.by,
        "descending": order.descending,
        "eras": [era.name for era in sorted(market.eras, key=lambda era: era.first_year)],
    }
    rows = ledger.read("marts/record_list", **bound, first=first, start=start)
    if start and rows.is_empty():
        ahead = ledger.read("marts/record_list", **bound, first=1, start=0)
        matching = int(ahead["matching"][0]) if ahead.height else 0
        start = (matching - 1) // first * first if first and matching else 0
        rows = ledger.read("marts/record_list", **bound, first=first, start=start)
    ids = short_ids(ledger, rows["record_id"].to_list())
    matching = int(rows["matching"][0]) if rows.height else 0
    listed = [Record(short_id=ids[row["record_id"]], **row) for row in rows.drop("matching").to_dicts()]
    return Records(market.base_currency, matching, tuple(listed), start)


def write_records(ledger: Ledger, folder: Path) -> WrittenSales:
    """Write the sales that a fit reads into a folder of Parquet files, whole or not at all; raises ReportError."""
    with write_folder(folder) as part, ledger.relation("marts/sales_for_files") as sales:
        count = write_sales(sales, part)
        files = len(list(part.rglob("*.parquet")))
    excluded = int(ledger.read("marts/held_out_sales").item())
    return WrittenSales(folder, files, count, excluded)


def removed_rows(ledger: Ledger) -> tuple[RemovedRow, ...]:
    """Return the rows that the owner has removed."""
    find_keys(ledger)
    rows = ledger.read("marts/removed_list")
    ids = short_ids(ledger, rows["row_key"].to_list())
    return tuple(RemovedRow(short_id=ids[row["row_key"]], **row) for row in rows.drop("row_id").to_dicts())


def records_to_remove(ledger: Ledger, market: Market, words: Sequence[str], wanted: Wanted) -> Records:
    """Return the records of these ids or, where there is none, those that match.

    Raises UnknownName and DecisionError as `find_record` does.
    """
    if not words:
        return find_records(ledger, market, wanted, first=None)
    ids = {find_record(ledger, word)[1] for word in words}
    return find_records(ledger, market, Wanted(record_ids=tuple(sorted(ids))), first=None)


def show_record(workspace: Workspace, word: str, *, as_of: date) -> OneRecord:
    """Return one record beside its rows; raises UnknownName and DecisionError as `find_record` does."""
    ledger, market = workspace.ledger, workspace.market
    _, record_id = find_record(ledger, word)
    record = record_of(ledger, record_id)
    keys = ledger.read_with("staging/keys_of_records", pl.DataFrame({"record_id": [record_id]}))
    about = (pl.col("record_id") == record_id) | (pl.col("other_id") == record_id)
    kept = decisions(ledger).filter(about)
    rows = ledger.read_with("staging/rows_of_keys", keys.select("row_key"))
    corrections = ledger.read("staging/kept_corrections")
    same_pair = ledger.read("marts/offers_of_pair", record_id=record_id, pair_key=record["pair_key"])
    others = [row for row in same_pair.to_dicts() if row["record_id"] != record_id]
    ids = short_ids(ledger, [row["record_id"] for row in others])
    return OneRecord(
        record_id=record_id,
        title=record["title"] or "",
        use=record["use"],
        currency=market.base_currency,
        price_paid=record["price_paid"],
        value=_value(workspace, record_id) if record["use"] == "in the fit" else None,
        known=known_of(record),
        rows=tuple(
            row_beside(
                row,
                market,
                dict(corrections.filter(row_key=row["row_key"]).select("field", "value").iter_rows()),
            )
            for row in rows.to_dicts()
        ),
        decisions=tuple(kept.to_dicts()),
        short_ids=short_ids(ledger, keys_of_decisions(kept)),
        offers=tuple({"short_id": ids[row["record_id"]], **row} for row in others),
        history=_history(workspace, record["stock_ref"], as_of=as_of),
    )


def find_stock_number(ledger: Ledger, word: str) -> str | None:
    """Return the stock number that is written so, in whatever case; None where there is none."""
    found = ledger.read("marts/stock_numbers", said=word.strip())
    return str(found["number"][0]) if found.height else None


def show_pair(workspace: Workspace, number: str, *, as_of: date) -> PairHistory:
    """Return the history up to a day of the pair of a stock number."""
    events = pair_histories(workspace, [number], as_of=as_of)
    listed = workspace.ledger.read("marts/listed_pairs", as_of=as_of, numbers=[number])
    records = events["record_id"].drop_nulls().unique(maintain_order=True).to_list()
    ids = short_ids(workspace.ledger, records)
    names = [*listed.select(NAMED).rows()[::-1]]
    if not names and records:
        record = record_of(workspace.ledger, records[-1])
        names = [tuple(record[name] for name in NAMED)]
    silhouette, colourway, era, title = names[0] if names else (None,) * len(NAMED)
    named = " ".join(filter(None, (silhouette, colourway, era))) if silhouette else title
    bought = events.filter(pl.col("what") == BOUGHT)["day"].drop_nulls()
    return PairHistory(number, named or "", as_of, tuple(bought), events, ids)


def _history(workspace: Workspace, number: str | None, *, as_of: date) -> pl.DataFrame:
    """Return the events of the pair of a record, none where they are its offers alone."""
    if number is None:
        return pl.DataFrame()
    events = pair_histories(workspace, [number], as_of=as_of)
    return events if events["record_id"].null_count() else pl.DataFrame()


def _value(workspace: Workspace, record_id: str) -> float | None:
    """Return what the latest fit gives for a sale on its day; None where there is no fit that can be used."""
    try:
        fitted = workspace.fitted
    except FitError:
        return None
    sale = workspace.sales.filter(record_id=record_id)
    return exp(float(predict(fitted.fit, sale)["log_price"][0]))


def _bound(ledger: Ledger, market: Market, wanted: Wanted) -> dict[str, object]:
    """Return the values that marts/record_list is asked with."""
    if wanted.file_name is not None:
        names = ledger.read("understood/files")["file_name"].to_list()
        if wanted.file_name not in names:
            raise UnknownName.among("file that was read", wanted.file_name, names)
    words = vocabulary(market)
    venues = {name: name for name in market.venue_by_name}
    return {
        "record_ids": None if wanted.record_ids is None else list(wanted.record_ids),
        "file_name": wanted.file_name,
        "venue": _meant("venue", wanted.venue, venues),
        "silhouette": _meant("silhouette", wanted.silhouette, words["silhouette"]),
        "era": _meant("era", wanted.era, words["era"]),
        "size_mm": _size_mm(wanted.size, market),
        "least": wanted.least,
        "most": wanted.most,
        "since": wanted.since,
        "until": wanted.until,
        "said": wanted.said,
        "only_left_out": wanted.only_left_out or None,
        "only_corrected": wanted.only_corrected or None,
    }


def _meant(kind: str, word: str | None, words: dict[str, str]) -> str | None:
    if word is None:
        return None
    found = find_alike(word, words)
    if found is None:
        raise UnknownName.among(kind, word, words.values())
    return words[found]


def _size_mm(word: str | None, market: Market) -> int | None:
    if word is None:
        return None
    read = read_sizes(pl.Series([word]), system=market.sizes.usual).row(0, named=True)
    if read["foot_mm"] is None:
        raise PairError(
            f"size {word!r}: {read['reason'] or 'no size can be read in it'}",
            "name the system with it ('UK 9', 'EU 43 1/3', '275 mm').",
        )
    return SIZE_STEP_MM * round(int(read["foot_mm"]) / SIZE_STEP_MM)
