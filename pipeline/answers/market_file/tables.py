"""What a market file holds, and the columns of a sale record."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipeline.answers.sheet import Sheet, count, table, words
from pipeline.config import Market
from pipeline.ingest.proposal import meanings_of
from pipeline.ingest.unfound import phrase_remarks

if TYPE_CHECKING:
    from pipeline.answers.market_file.draft import MapDraft

KINDS = ("eras", "colourways", "silhouettes", "treatments", "defects", "parts", "venues")
TYPES = {
    "VARCHAR": "text",
    "VARCHAR[]": "list",
    "DATE": "date",
    "DECIMAL(18, 4)": "amount",
    "DOUBLE": "number",
    "INTEGER": "integer",
    "BOOLEAN": "yes/no",
}
"""The types of a record's columns as an owner knows them."""


def market_file_sheet(market: Market, path: Path, remarks: Sequence[str] = ()) -> Sheet:
    """Return the sheet of a market file that was read; `remarks` are what there is to say of it besides."""
    return Sheet(
        title=f"{path} is good",
        sentences=(f"Base currency {market.base_currency}.",),
        tables=(
            table(
                "names",
                "Names",
                (words("kind", "Of"), count("count", "Count"), words("names", "Names")),
                [
                    {"kind": kind, "count": len(items), "names": ", ".join(item.name for item in items)}
                    for kind, items in ((kind, getattr(market, kind)) for kind in KINDS)
                ],
            ).marked(cut=("names",)),
            table(
                "maps",
                "Export maps",
                (words("map", "Map"), words("files", "Files"), words("venue", "Venue")),
                [{"map": name, "files": one.files, "venue": one.venue} for name, one in market.maps.items()],
            ),
        ),
        warnings=tuple(f"{remark}." for remark in (*market.remarks, *phrase_remarks(market), *remarks)),
    )


def columns_sheet(columns: list[dict[str, str]]) -> Sheet:
    """Return the sheet of the columns of a sale record, as `pipeline.schema.describe_columns` lists them."""
    return Sheet(
        title="The columns of a sale record, and of a stock list",
        tables=(
            table(
                "columns",
                "The allowed values are in brackets.",
                (words("column", "Column"), words("kind", "Type"), words("about", "Meaning")),
                [
                    {
                        **one,
                        "kind": TYPES.get(one["type"], one["type"]),
                        "about": " ".join(
                            filter(
                                None,
                                (
                                    one["meaning"],
                                    f"Unit: {one['unit']}." if one["unit"] not in ("", "day") else "",
                                    f"[{one['allowed']}]" if one["allowed"] else "",
                                ),
                            )
                        ),
                    }
                    for one in columns
                ],
            ).marked(cut=("about",) if len(columns) > 1 else ()),
        ),
    )


def draft_sheet(draft: "MapDraft", file_name: str) -> Sheet:
    """Return the sheet of a proposed map: each field and key with its column or value, and why."""
    rows = [
        {"field": name, "value": str(value), "why": draft.whys.get(name, "")}
        for name, value in (*draft.columns.items(), *draft.keys.items())
    ]
    not_read = [heading for heading in draft.headings if heading not in draft.columns.values()]
    return Sheet(
        title=f"A map for {file_name}",
        sentences=(f"Not read: {', '.join(not_read)}.",) if not_read else (),
        tables=(
            table(
                "map",
                "What was understood",
                (words("field", "Field"), words("value", "Column or value"), words("why", "Why")),
                rows,
            ),
        ),
    )


def preview_sheet(rows: pl.DataFrame, draft: "MapDraft", base_currency: str) -> Sheet:
    """Return the sheet of the first rows of a file as a map reads them (columns of `first_rows`)."""
    columns = (
        ("row_number", "Row"),
        ("status", "Status"),
        ("day", "Day"),
        ("title", "Title"),
        ("size_label", "Size"),
        ("grade", "Grade"),
        ("stated", "Price"),
        ("paid", "Buyer paid"),
        ("reason", "Cannot be read"),
    )
    shown = [
        row
        | {
            "stated": row["price_native"] and f"{row['price_native']:,.2f} {row['currency']}",
            "paid": row["price_paid"] and f"{row['price_paid']:,.2f} {base_currency}",
        }
        for row in rows.to_dicts()
    ]
    unread = [
        f"Words of {field} that mean nothing yet: {', '.join(known)}; say what they mean by a line such as "
        f"`{known[0]} = {meanings_of(field)[0] if field != 'grade' else '8.5'}`."
        for field, known in draft.unread.items()
        if field in draft.columns and known
    ]
    without = [f"{word!r} has no status yet: its rows go to quarantine." for word in draft.open_words]
    return Sheet(
        title=f"The first {rows.height} rows as the map {draft.name!r} reads them",
        tables=(
            table(
                "rows",
                "Rows",
                tuple(words(key, heading) for key, heading in columns),
                shown,
            ),
        ),
        warnings=(*unread, *without),
    )
