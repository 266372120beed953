"""Put single records right: correct fields, remove records, add a sale by hand, and take any of it back."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import polars as pl

from pipeline.alike import find_alike
from pipeline.config import Market
from pipeline.errors import CorrectionError, DecisionError, UnknownName, suggest
from pipeline.ingest.attributes import list_vocabulary, read_stated, vocabulary
from pipeline.ingest.dates import read_dates
from pipeline.ingest.decided import Applied, apply_decisions
from pipeline.ingest.money import market_rates
from pipeline.ingest.numbers import read_amounts
from pipeline.ingest.offers import UNDONE
from pipeline.ingest.rereading import AMOUNTS, DAYS, OWN_MARK
from pipeline.ingest.same import derive_sales, find_keys
from pipeline.ledger import Ledger
from pipeline.schema import COLUMN, PRICE_BASES, SALE_RECORD, SIZE_SYSTEMS, SOURCE_FIELDS, STATUSES

DECISION_SCHEMA: dict[str, pl.DataType] = {
    **dict.fromkeys(("kind", "record_id", "other_id", "field", "value", "note"), pl.String()),
    "ruled_at": pl.Datetime("us"),
    "step": pl.Int64(),
}
"""The columns of decisions that are to be kept; those of one step are made together."""


@dataclass(frozen=True)
class Change:
    """What became of one field: its text before and after, and whether it only follows from what was corrected."""

    field: str
    before: str | None
    after: str | None
    follows: bool


@dataclass(frozen=True)
class PutRight:
    """One record after a decision: its id, what changed, and how many rows it is made of."""

    record_id: str
    title: str
    changes: tuple[Change, ...]
    rows: int


def find_record(ledger: Ledger, word: str) -> tuple[str, str]:
    """Return the key of a row that a record's id, or the beginning of one, means, and the record that it is of.

    Raises UnknownName where no record begins so, DecisionError where several do, or where it was removed.
    """
    beginning = word.strip().lower()
    found = ledger.read("staging/keys_like", beginning=beginning) if beginning else pl.DataFrame()
    if found.is_empty():
        _refuse_removed(ledger, beginning)
        raise UnknownName.among("record", word, (), "`pairband records` lists the records with their ids.")
    records = found["record_id"].unique(maintain_order=True).to_list()
    if len(records) > 1:
        short = short_ids(ledger, found["row_key"].to_list())
        listed = "".join(
            f"\n  {short[row['row_key']]}  {row['day'] or '–'}  {row['title'] or ''}"
            for row in found.head(8).to_dicts()
        )
        more = f"\n  and {found.height - 8:,} more" if found.height > 8 else ""
        raise DecisionError(
            f"{len(records):,} records begin with {word!r}:{listed}{more}", "give more of the id."
        )
    keys = found["row_key"].to_list()
    return (keys[0] if len(keys) == 1 else records[0]), records[0]


def _refuse_removed(ledger: Ledger, beginning: str) -> None:
    """Raise DecisionError where rows that begin so were removed: say when, why, and how to take it back."""
    find_keys(ledger)
    removed = ledger.read("staging/removed_like", beginning=beginning) if beginning else pl.DataFrame()
    if removed.is_empty():
        return
    listed = []
    for row in removed.head(_MOST_REMOVED).to_dicts():
        how = f"with all of {row['file_name']}" if row["file_name"] else "by itself"
        why = f": {row['note']}" if row["note"] else ", without a reason"
        listed.append(
            f"{row['row_key']} ({row['day'] or 'no day'}, {row['title'] or 'no title'}) was removed "
            f"{how} on {row['decided_at']:%Y-%m-%d}{why}"
        )
    decision = removed["decision_id"][0]
    more = removed.height - len(listed)
    raise DecisionError(
        "; ".join(listed) + (f"; and {more:,} more" if more else ""),
        f"`pairband undo {decision[:8]}` brings it back; `pairband records --removed` lists all that you removed.",
    )


_MOST_REMOVED = 4


def short_ids(ledger: Ledger, keys: Sequence[str]) -> dict[str, str]:
    """Return each key with its first signs: six, or as many more as tell it from all others of the ledger."""
    signs = ledger.read_with(
        "staging/short_ids", pl.DataFrame({"row_key": keys}, schema={"row_key": pl.String})
    )
    return {key: key[:number] for key, number in signs.iter_rows()}


def record_of(ledger: Ledger, record_id: str) -> dict[str, Any]:
    """Return one record: column → value, as JSON holds it, and `use` (whether it is in the fit, or why not)."""
    row = ledger.read("marts/record", record_id=record_id).row(0, named=True)
    record: dict[str, Any] = json.loads(row["record"])
    return record | {"use": row["use"]}


def correct(
    ledger: Ledger,
    market: Market,
    record: str,
    said: Mapping[str, str],
    *,
    note: str,
    ruled_at: datetime,
    as_of: date,
) -> PutRight:
    """Correct fields of a record, in every row that it is made of, and derive the sales again, in one transaction.

    `said` is field → the owner's text, empty where the value is not known. Raises UnknownName and CorrectionError
    where something of it cannot be read; DecisionError where it contradicts a decision or changes nothing: then
    nothing is changed.
    """
    row_key, record_id = find_record(ledger, record)
    texts = {field: own_text(field, text, market) for field, text in said.items()}
    before = record_of(ledger, record_id)
    _refuse_unread(texts, market, before)
    keys = _keys_of(ledger, [record_id])["row_key"].to_list()
    _refuse_another_era(ledger, keys, texts)
    rows = [(key, field, value) for key in keys for field, value in texts.items()]
    corrections = pl.DataFrame(rows, schema=["row_key", "field", "value"], orient="row")
    kept = ledger.read("staging/kept_corrections")
    new = corrections.join(kept, on=["row_key", "field", "value"], how="anti")
    if new.is_empty():
        raise DecisionError(f"{record_id} is corrected so already", "nothing was changed.")
    with ledger.transaction():
        _keep(ledger, "correct", new.with_columns(other_id=pl.lit(record_id)), note=note, ruled_at=ruled_at)
        applied = apply_decisions(ledger, market, market_rates(market), as_of=as_of)
        own = pl.col("row_key").is_in(keys)
        for fault in applied.refused.filter(own).to_dicts():
            raise _cannot_be_read(fault["field"], fault["value"], fault["reason"], market, before)
        for fault in applied.unread.filter(own, pl.col("field").is_in(list(texts))).to_dicts():
            raise _cannot_be_read(fault["field"], fault["value"], fault["reason"], market, before)
        derive_sales(ledger)
        now = _record_now(ledger, row_key)
        after = record_of(ledger, now)
        if texts.get("size_label") and after["foot_mm"] is None:
            raise _cannot_be_read(
                "size_label", texts["size_label"], "no size can be read in it", market, before
            )
    return _put_right(ledger, now, before, after, texts)


def remove(
    ledger: Ledger,
    market: Market,
    record_ids: Sequence[str],
    *,
    note: str,
    ruled_at: datetime,
    as_of: date,
) -> int:
    """Remove records, all rows of each, and derive the sales again, in one transaction; return how many rows' keys."""
    keys = _keys_of(ledger, record_ids).rename({"record_id": "other_id"})
    with ledger.transaction():
        _keep(ledger, "remove", keys, note=note, ruled_at=ruled_at)
        derive_again(ledger, market, as_of=as_of)
    return keys.height


def remove_file(
    ledger: Ledger, market: Market, file_name: str, *, note: str, ruled_at: datetime, as_of: date
) -> None:
    """Remove all rows of a file, or a stock list, that was read; a sale that another file records as well stays.

    Raises UnknownName where no such file was read, DecisionError where it is removed already.
    """
    known = ledger.read("staging/all_files")
    files = known.filter(pl.col("file_name") == file_name)
    if files.is_empty():
        names = known["file_name"].to_list()
        raise UnknownName.among("file that was read", file_name, names)
    removed = decisions(ledger).filter(kind="remove", field="file")["row_key"].to_list()
    new = files.filter(~pl.col("file_sha256").is_in(removed))
    if new.is_empty():
        raise DecisionError(f"{file_name} is removed already", "`pairband undo` takes a decision back.")
    of_file = new.select(
        pl.col("file_sha256").alias("row_key"),
        pl.lit("file").alias("field"),
        pl.col("file_name").alias("value"),
    )
    with ledger.transaction():
        _keep(ledger, "remove", of_file, note=note, ruled_at=ruled_at)
        derive_again(ledger, market, as_of=as_of)


def add(
    ledger: Ledger,
    market: Market,
    said: Mapping[str, str],
    *,
    note: str,
    ruled_at: datetime,
    as_of: date,
) -> PutRight:
    """Add one sale by hand, as the row of a file, and derive the sales again, in one transaction.

    `said` is field → the owner's text; a price is all that the buyer paid unless `price_basis` says otherwise.
    Raises UnknownName and CorrectionError where something of it cannot be read or is missing: then nothing is changed.
    """
    texts = {field: text for field, value in said.items() if (text := own_text(field, value, market))}
    if "venue" not in texts:
        raise CorrectionError(
            "a sale needs its venue", f"say where: venue=NAME ({', '.join(market.venue_by_name)})."
        )
    if "price_native" not in texts and "status" not in texts:
        raise CorrectionError(
            "a sale needs its price", "say price=240, or status=unsold for an offer that found no buyer."
        )
    value = json.dumps(texts, ensure_ascii=False)
    with ledger.transaction():
        one = pl.DataFrame({"row_key": ["0" * 16], "value": [value]})
        _keep(ledger, "add", one, note=note, ruled_at=ruled_at)
        derive_again(ledger, market, as_of=as_of)
        added = ledger.read("staging/kept_additions").row(-1, named=True)
        for fault in ledger.read("staging/faults_of_additions", row_number=added["row_number"]).to_dicts():
            raise _cannot_be_read(fault["field"], fault["value"], fault["reason"], market, texts)
        record_id = _record_now(ledger, added["record_id"])
        after = record_of(ledger, record_id)
        if texts.get("size_label") and after["foot_mm"] is None:
            raise _cannot_be_read(
                "size_label", texts["size_label"], "no size can be read in it", market, texts
            )
    return _put_right(ledger, record_id, {}, after, texts)


def decisions(ledger: Ledger) -> pl.DataFrame:
    """Return every decision of the owner, in the columns of sql/staging/decision_list."""
    find_keys(ledger)
    return ledger.read("staging/decision_list")


def undo(ledger: Ledger, market: Market, decision: str | None, *, as_of: date) -> pl.DataFrame:
    """Take a decision back, or the last ones that were made together; return them (see `decisions`).

    Everything is then as if they had not been made. Raises UnknownName where there is none, DecisionError where several
    begin as `decision` does.
    """
    kept = decisions(ledger)
    if decision is None:
        if kept.is_empty():
            raise DecisionError("there is no decision to take back", "`pairband decisions` lists them.")
        taken = kept.filter(pl.col("ruling_number") == pl.col("ruling_number").max())
    else:
        alike = kept.filter(pl.col("decision_id").str.starts_with(decision.strip().lower()))
        if alike.is_empty() or not decision.strip():
            raise UnknownName.among(
                "decision", decision, (), "`pairband decisions` lists them with their ids."
            )
        if alike.height > 1:
            ids = ", ".join(alike["decision_id"].head(8).to_list())
            raise DecisionError(
                f"{alike.height} decisions begin with {decision!r}: {ids}", "give more of the id."
            )
        together = ["ruling_number", "kind", "field", "value", "other_key"]
        taken = kept.join(alike.select(together), on=together, how="semi", nulls_equal=True)
    with ledger.transaction():
        ledger.write("staging/forget_decisions", taken.select("decision_id"))
        derive_again(ledger, market, as_of=as_of)
    return taken


def own_text(field: str, text: str, market: Market) -> str:
    """Return the owner's text for a field in plain form: days as 2024-05-03, amounts with a decimal point.

    Raises UnknownName for a field that no export may fill, CorrectionError for a day or an amount that is none, and
    for a word that a field with few values does not have.
    """
    if field not in (*SOURCE_FIELDS, "price_basis"):
        raise UnknownName.among("field", field, SOURCE_FIELDS)
    said = text.strip()
    if not said:
        return ""
    if field in DAYS:
        read = read_dates(pl.Series([said]), order="ymd", language="en").row(0, named=True)
        if read["day"] is None:
            raise CorrectionError(
                f"{field} {said!r}: {read['reason']}", "write the day as 2024-05-03, or as 3 May 2024."
            )
        return str(read["day"])
    if field == "price_basis":
        found = find_alike(said, PRICE_BASES)
        if found is None:
            raise CorrectionError(
                f"price_basis {said!r} is not one of those known", suggest(said, PRICE_BASES)
            )
        return found
    if field in AMOUNTS:
        return _amount(field, said, market)
    return said


def _refuse_unread(texts: Mapping[str, str], market: Market, record: Mapping[str, Any]) -> None:
    """Raise CorrectionError where a word for an attribute means nothing; nearly a name is not that name."""
    known = {"silhouette": record.get("silhouette")} | {field: text or None for field, text in texts.items()}
    fields = pl.DataFrame(
        {field: [known.get(field)] for field in SOURCE_FIELDS}, schema=dict.fromkeys(SOURCE_FIELDS, pl.String)
    )
    stated = read_stated(fields, market, list_mark=OWN_MARK, words={})
    for field, read in stated.items():
        if texts.get(field) and read["unread"][0] is not None:
            raise _cannot_be_read(field, texts[field], read["unread"][0], market, known)


def _amount(field: str, said: str, market: Market) -> str:
    """Return an amount with a decimal point, its currency before it where it names one."""
    for mark in (".", ","):
        read = read_amounts(pl.Series([said]), decimal_mark=mark, currency=market.base_currency).row(
            0, named=True
        )
        if read["amount"] is not None:
            return f"{read['currency'] or ''} {read['amount'].normalize():f}".strip()
    raise CorrectionError(f"{field} {said!r}: {read['reason']}", "write the amount as 1234.50.")


def _keys_of(ledger: Ledger, record_ids: Sequence[str]) -> pl.DataFrame:
    wanted = pl.DataFrame({"record_id": list(record_ids)}, schema={"record_id": pl.String})
    return ledger.read_with("staging/keys_of_records", wanted)


def _record_now(ledger: Ledger, row_key: str) -> str:
    """Return the record that the row of a key is of."""
    return str(ledger.read("staging/keys_like", beginning=row_key)["record_id"][0])


def _keep(ledger: Ledger, kind: str, rows: pl.DataFrame, *, note: str, ruled_at: datetime) -> None:
    """Keep decisions that are made together: row_key, and other_id, field and value where they have any."""
    together = rows.rename({"row_key": "record_id"}).with_columns(
        kind=pl.lit(kind),
        note=pl.lit(note),
        ruled_at=pl.lit(ruled_at.replace(tzinfo=None)),
        step=pl.lit(0, dtype=pl.Int64),
    )
    keep_decisions(ledger, together)


def keep_decisions(ledger: Ledger, rows: pl.DataFrame) -> None:
    """Keep decisions (columns of DECISION_SCHEMA; other_id, field and value may be left out)."""
    frame = pl.concat([pl.DataFrame(schema=DECISION_SCHEMA), rows], how="diagonal")
    ledger.write("staging/keep_decisions", frame.select(list(DECISION_SCHEMA)))


def derive_again(ledger: Ledger, market: Market, *, as_of: date) -> Applied:
    """Apply the decisions that are kept, and derive the sales again; to be called within a transaction."""
    applied = apply_decisions(ledger, market, market_rates(market), as_of=as_of)
    derive_sales(ledger)
    return applied


def _refuse_another_era(ledger: Ledger, keys: Sequence[str], texts: Mapping[str, str]) -> None:
    """Raise DecisionError where an era is corrected that the owner has decided on already."""
    if "era" not in texts:
        return
    for kept in decisions(ledger).filter(kind="era").to_dicts():
        if kept["row_key"] in keys or kept["record_id"] in keys:
            raise DecisionError(
                f"the era of this record is decided already: {kept['value']!r}; nothing was changed",
                f"take that back first: `pairband undo {kept['decision_id'][:8]}`.",
            )


def _put_right(
    ledger: Ledger,
    record_id: str,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    texts: Mapping[str, str],
) -> PutRight:
    changes = [
        Change(
            column.name,
            shown(before.get(column.name)),
            shown(after[column.name]),
            column.name not in texts,
        )
        for column in SALE_RECORD
        if column.name not in ("record_id", "pair_key")
        and (column.name in texts or shown(before.get(column.name)) != shown(after[column.name]))
    ]
    changes.sort(key=lambda change: change.follows)
    rows = _keys_of(ledger, [record_id]).height
    return PutRight(record_id, after["title"] or "", tuple(changes), rows)


def shown(value: Any) -> str | None:
    """Return a value of a record as text; None where it is not known."""
    if isinstance(value, list):
        return ", ".join(value) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4f}".rstrip("0").rstrip(".")
    return None if value is None else str(value)


def _cannot_be_read(
    field: str, value: str | None, reason: str, market: Market, record: Mapping[str, Any]
) -> CorrectionError:
    """Return the error that a text for a field means nothing, with the nearest names or the allowed values."""
    said = f"{field} {value!r}" if value else field
    if field == UNDONE:
        said = "a correction cannot undo a sale"
    return CorrectionError(
        f"{said}: {reason}; nothing was changed", _remedy(field, value or "", market, record)
    )


def _remedy(field: str, value: str, market: Market, record: Mapping[str, Any]) -> str:
    words = {**vocabulary(market), **list_vocabulary(market)}
    if field == "colourway":
        of_silhouette = [one for one in market.silhouettes if one.name == record.get("silhouette")]
        return suggest(value, [colourway.name for one in of_silhouette for colourway in one.colourways])
    if field in words:
        return suggest(value, sorted(set(words[field].values())))
    closed = {
        "status": STATUSES,
        "size_system": SIZE_SYSTEMS,
        "venue": tuple(market.venue_by_name),
    }
    if field in closed:
        return suggest(value, closed[field])
    if field == "grade":
        known = ", ".join(market.words.grades) or "none yet"
        return f"give 1 to 10 by half, or a trade word of the market file ({known})."
    if field == "size_label":
        return "name the system with it ('UK 9', 'EU 43 1/3', '275 mm')."
    if field == UNDONE:
        return "say status=withdrawn without a price, or `pairband remove` the record."
    if field not in COLUMN:
        return "say the sale of one pair, with its whole price: a row like this is put aside."
    return f"`pairband columns` says what {COLUMN[field].name} holds."
