"""What an honest reading of the exports must find: rows, duplicates, rows that are no record, and why."""

import json

import polars as pl

from sample_data import faults
from sample_data.exports import Export
from sample_data.shopping import PairList


def expected_document(
    offers: pl.DataFrame, exports: list[Export], lots: PairList, stock: PairList
) -> dict[str, object]:
    """Return the counts of all exports together and of each, as `expected.json` holds them.

    Files are taken in the order of their names: a row is a duplicate when its offer stands in an earlier
    file. rows = records + duplicates + no_record, for each file and in all.
    """
    rows = _judged(exports)
    records = rows.filter(kind="record").join(offers.drop("status", "fault", "closed_on"), on="offer")
    earlier_known = records["re_offer_of"].is_in(records["offer"].to_list())
    resold = records.filter(pl.col("bought_as").is_not_null())
    bought = offers.select(pl.col("offer").alias("bought_as"), treatments_before="treatments")
    worked = resold.join(bought, on="bought_as").filter(pl.col("treatments") != pl.col("treatments_before"))
    odd = (faults.TEN_TIMES, faults.A_TENTH, faults.NO_SUCH_SIZE, faults.ERA_CONFLICT)
    return {
        "files": {
            export.name: _counts(rows.filter(file=export.name)) | _no_record(rows.filter(file=export.name))
            for export in exports
        },
        "all": _counts(rows),
        "re_offers": int(earlier_known.sum()),
        "re_offers_with_stock_number": records.filter(earlier_known)["stock_ref"].count(),
        "resales": len(resold),
        "restored_between": len(worked),
        "logged_twice": int(offers["logged_twice"].sum()),
        "odd_records": {
            fault: rows.filter(kind="record", fault=fault).select("file", "sheet", "row_number").to_dicts()
            for fault in odd
        },
        "months_with_a_sale": records.filter(status="sold")["closed_on"].dt.truncate("1mo").n_unique(),
        "upcoming_lots": dict(pl.read_csv(lots.content).group_by("venue").len().sort("venue").iter_rows()),
        "stock": len(pl.read_csv(stock.content)),
        "fair_values_of_upcoming_lots": lots.fair_values,
        "fair_values_of_stock": stock.fair_values,
    }


def expected_json(document: dict[str, object]) -> str:
    """Return the document as JSON text, as `expected.json` holds it."""
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _judged(exports: list[Export]) -> pl.DataFrame:
    """Return every row of every export with its kind: record, no record, repeated or logged twice."""
    rows = pl.concat(export.rows.with_columns(file=pl.lit(export.name)) for export in exports)
    no_record = pl.col("fault").is_in(list(faults.NO_RECORD)).fill_null(value=False)
    rank = pl.col("file").rank("dense").over("offer")
    counter_first = pl.col("file").str.starts_with("counter").any().over("offer")
    return rows.with_columns(
        kind=pl.when(no_record)
        .then(pl.lit("no record"))
        .when(rank == 1)
        .then(pl.lit("record"))
        .when(counter_first & (rank == 2))
        .then(pl.lit("logged twice"))
        .otherwise(pl.lit("repeated"))
    )


def _counts(rows: pl.DataFrame) -> dict[str, object]:
    """Return how many rows there are of each kind, and how the records ended."""
    of_kind = dict(rows.group_by("kind").len().iter_rows())
    ended = dict(rows.filter(kind="record").group_by("status").len().sort("status").iter_rows())
    repeated, logged = of_kind.get("repeated", 0), of_kind.get("logged twice", 0)
    return {
        "rows": len(rows),
        "records": of_kind.get("record", 0),
        "duplicates": repeated + logged,
        "duplicates_repeated_from_another_export": repeated,
        "duplicates_logged_at_the_counter_too": logged,
        "no_record": of_kind.get("no record", 0),
        "records_by_status": ended,
    }


def _no_record(rows: pl.DataFrame) -> dict[str, object]:
    """Return the rows that cannot be a sale record: where each is, which field is wrong, and why."""
    listed = rows.filter(kind="no record").select(
        "sheet",
        "row_number",
        field=pl.col("fault").replace_strict(faults.NO_RECORD, return_dtype=pl.String),
        reason=pl.col("fault"),
    )
    return {"rows_that_are_no_record": listed.to_dicts()}
