"""The owner's decisions as a table that leaves the ledger and comes back, to this ledger or to a new one."""

from dataclasses import dataclass
from datetime import date
from typing import cast

import polars as pl

from pipeline.config import Market
from pipeline.errors import CorrectionError, PairbandError
from pipeline.ingest.decided import Applied
from pipeline.ingest.put_right import decisions, derive_again, keep_decisions
from pipeline.ingest.review import DECISION_KINDS, Decision, DecisionKind, keep
from pipeline.ingest.same import derive_sales
from pipeline.ledger import Ledger

NUMBERS = ("number", "row", "pair", "other_row", "other_pair")
DAY = "day"
COLUMNS = (
    *("number", "kind", "record", "other", "field", "value", "note", DAY),
    *("file", "sheet", "row", "pair", "other_file", "other_sheet", "other_row", "other_pair"),
)
"""The columns of the table; record and other are keys of rows, and the place (file, sheet, row, pair) is that of
the first."""

SINCE_PAIRS = ("pair", "other_pair")
"""The columns that lists had not which were written before a row could be of several pairs."""

OF_ROWS = ("correct", "remove", "add")
"""The kinds of decisions on rows; all others are on sales."""


@dataclass(frozen=True)
class Lost:
    """A decision that could not be brought in, and why."""

    number: int
    kind: str
    record: str
    why: str


@dataclass(frozen=True)
class BroughtIn:
    """How many decisions were brought in, how many were there before, and those that could not be."""

    new: int
    already: int
    lost: tuple[Lost, ...]


def decision_rows(ledger: Ledger) -> pl.DataFrame:
    """Return every decision (COLUMNS), in the order in which they were made."""
    return decisions(ledger).select(
        pl.col("ruling_number").alias("number"),
        "kind",
        pl.col("row_key").alias("record"),
        pl.col("other_key").alias("other"),
        "field",
        "value",
        "note",
        pl.col("decided_at").dt.strftime("%Y-%m-%dT%H:%M:%S%.6f").alias(DAY),
        pl.col("file_name").alias("file"),
        "sheet",
        pl.col("row_number").alias("row"),
        pl.col("pair_number").cast(pl.Int64).alias("pair"),
        "other_file",
        "other_sheet",
        "other_row",
        pl.col("other_pair").cast(pl.Int64),
    )


def bring_in(ledger: Ledger, market: Market, rows: pl.DataFrame, *, as_of: date) -> BroughtIn:
    """Keep decisions (COLUMNS) that are not kept yet, and derive the sales again, in one transaction.

    A row that has not the key that it had is found by file, sheet, row and pair. A file that was removed is found by
    its content alone: another version of it was not removed. Decisions keep their day and their order. A correction
    that the market file cannot read is not kept.
    """
    kept = decision_rows(ledger)
    same = ["kind", "field", "value", DAY]
    with ledger.transaction():
        added = rows.filter(kind="add").join(kept, on=same, how="anti", nulls_equal=True)
        _keep(ledger, added.with_columns(key=pl.lit("0" * 16), other_key=pl.lit(None, dtype=pl.String)))
        derive_again(ledger, market, as_of=as_of)
        placed = _placed(ledger, rows.filter(pl.col("kind") != "add"))
        gone = placed.filter(
            pl.col("key").is_null() | (pl.col("other").is_not_null() & pl.col("other_key").is_null())
        )
        found = placed.join(gone, on=COLUMNS, how="anti", nulls_equal=True)
        on_rows = found.filter(pl.col("kind").is_in(OF_ROWS))
        there = kept.select(*same, key="record")
        new = on_rows.join(there, on=[*same, "key"], how="anti", nulls_equal=True)
        _keep(ledger, new)
        unread = _take_back_unread(ledger, new, derive_again(ledger, market, as_of=as_of))
        if unread:
            derive_again(ledger, market, as_of=as_of)
        ruled, refused = _rule(ledger, market, found.filter(~pl.col("kind").is_in(OF_ROWS)))
        derive_sales(ledger)
    lost = [
        Lost(
            number, kind, record, f"{value} is not there as it was" if field == "file" else "its row is gone"
        )
        for number, kind, record, field, value in gone.select(
            "number", "kind", "record", "field", "value"
        ).iter_rows()
    ]
    lost += [*unread, *refused]
    brought = added.height + new.height - len(unread) + ruled
    return BroughtIn(brought, rows.height - brought - len(lost), tuple(lost))


def read_decisions(table: pl.DataFrame, name: str) -> pl.DataFrame:
    """Return a table of texts as decisions (COLUMNS); raises CorrectionError where it is none of pairband's."""
    missing = [column for column in COLUMNS if column not in (*table.columns, *SINCE_PAIRS)]
    if missing:
        raise CorrectionError(
            f"{name} is no list of decisions: it has no column {missing[0]!r}",
            "`pairband decisions --csv FILE` writes one.",
        )
    older = [pl.lit(None, dtype=pl.String).alias(name) for name in SINCE_PAIRS if name not in table.columns]
    texts = table.with_columns(older).select(pl.col(COLUMNS).replace("", None))
    typed = texts.with_columns(pl.col(NUMBERS).cast(pl.Int64, strict=False)).with_columns(
        pl.col("value").fill_null(pl.when(pl.col("kind") == "correct").then(pl.lit(""))),
        pl.col("note").fill_null(""),
        pl.when(pl.col("file").is_not_null()).then(pl.col("sheet").fill_null("")).alias("sheet"),
        pl.when(pl.col("other_file").is_not_null())
        .then(pl.col("other_sheet").fill_null(""))
        .alias("other_sheet"),
    )
    known = pl.col("kind").is_in([*OF_ROWS, *DECISION_KINDS])
    is_day = pl.col(DAY).str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", strict=False).is_not_null()
    is_key = pl.col("record").str.contains(r"^(?:[0-9a-f]{16}|[0-9a-f]{64})$")
    good = (known & is_day & is_key & pl.col("number").is_not_null()).fill_null(value=False)
    wrong = typed.with_row_index("line", offset=2).filter(~good)
    if wrong.height:
        raise CorrectionError(
            f"line {wrong['line'][0]} of {name} is no decision ({wrong.height} such lines); nothing was brought in",
            "bring in the list as `pairband decisions --csv` wrote it.",
        )
    return typed.sort("number", maintain_order=True)


def _placed(ledger: Ledger, rows: pl.DataFrame) -> pl.DataFrame:
    """Return the decisions with the keys that their rows have now: key and other_key, null where there is no row."""
    files = ledger.read("staging/all_files")["file_sha256"].to_list()
    of_file = (pl.col("kind") == "remove") & (pl.col("field") == "file").fill_null(value=False)
    sides = {
        "key": ("record", "file", "sheet", "row", "pair"),
        "other_key": ("other", "other_file", "other_sheet", "other_row", "other_pair"),
    }
    for key, (record, file, sheet, row, pair) in sides.items():
        wanted = rows.select(
            pl.col(record).alias("row_key"),
            pl.col(file).alias("file_name"),
            pl.col(sheet).alias("sheet"),
            pl.col(row).alias("row_number"),
            pl.col(pair).alias("pair_number"),
        )
        now = ledger.read_with("staging/keys_of_places", wanted).rename({"key_now": key})
        rows = rows.join(
            now,
            left_on=[record, file, sheet, row, pair],
            right_on=["row_key", "file_name", "sheet", "row_number", "pair_number"],
            how="left",
            nulls_equal=True,
            maintain_order="left",
        )
    whole_file = pl.when(pl.col("record").is_in(files)).then("record")
    return rows.with_columns(key=pl.when(of_file).then(whole_file).otherwise("key"))


def _keep(ledger: Ledger, rows: pl.DataFrame) -> None:
    """Keep decisions on rows by the keys that these have now."""
    keep_decisions(
        ledger,
        rows.select(
            "kind",
            pl.col("key").alias("record_id"),
            pl.col("other_key").alias("other_id"),
            "field",
            "value",
            "note",
            pl.col(DAY).str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", time_unit="us").alias("ruled_at"),
            (pl.col("number").rank("dense").cast(pl.Int64) - 1).alias("step"),
        ),
    )


def _take_back_unread(ledger: Ledger, new: pl.DataFrame, applied: Applied) -> list[Lost]:
    """Take back the corrections among new decisions whose values could not be read; return them, with why."""
    faults = pl.concat([applied.refused, applied.unread]).select(
        key="row_key", field="field", reason="reason"
    )
    corrected = new.filter(kind="correct").join(faults, on=["key", "field"], how="inner")
    unread = corrected.unique(["key", "field"], keep="first", maintain_order=True)
    kept = decisions(ledger).filter(kind="correct").select("decision_id", "field", "value", key="row_key")
    for decision_id in unread.join(kept, on=["key", "field", "value"], how="inner")["decision_id"].to_list():
        ledger.run("staging/forget_ruling", ruling_id=decision_id)
    return [
        Lost(number, "correct", record, f"{field} {value!r}: {reason}")
        for number, record, field, value, reason in unread.select(
            "number", "record", "field", "value", "reason"
        ).iter_rows()
    ]


def _rule(ledger: Ledger, market: Market, rows: pl.DataFrame) -> tuple[int, list[Lost]]:
    """Keep decisions on sales; return how many are new, and those that contradict what is kept."""
    new, refused = 0, []
    for row in rows.to_dicts():
        other = row["other_key"] if row["other"] is not None else None
        ruling = Decision(cast("DecisionKind", row["kind"]), row["key"], other, row["value"], row["note"])
        ruled_at = pl.Series([row[DAY]]).str.to_datetime("%Y-%m-%dT%H:%M:%S%.f")[0]
        try:
            new += keep(ledger, market, ruling, ruled_at=ruled_at) == "new"
        except PairbandError as exc:
            refused.append(Lost(row["number"], row["kind"], row["record"], exc.what))
    return new, refused
