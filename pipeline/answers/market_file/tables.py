"""What a market file holds, and the columns of a sale record."""

from pathlib import Path

from pipeline.answers.sheet import Sheet, count, table, words
from pipeline.config import Market
from pipeline.ingest.unfound import phrase_remarks

KINDS = ("eras", "silhouettes", "treatments", "defects", "parts", "venues")
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


def market_file_sheet(market: Market, path: Path) -> Sheet:
    """Return the sheet of a market file that was read."""
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
            ),
            table(
                "maps",
                "Export maps",
                (words("map", "Map"), words("files", "Files"), words("venue", "Venue")),
                [{"map": name, "files": one.files, "venue": one.venue} for name, one in market.maps.items()],
            ),
        ),
        warnings=tuple(f"{remark}." for remark in (*market.remarks, *phrase_remarks(market))),
    )


def columns_sheet(columns: list[dict[str, str]]) -> Sheet:
    """Return the sheet of the columns of a sale record, as `pipeline.schema.describe_columns` lists them."""
    return Sheet(
        title="The columns of a sale record",
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
            ),
        ),
    )
