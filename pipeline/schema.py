"""The columns of a sale record: names, types, units, meanings and allowed values.

This is the single list. The ledger's tables, the SQL checks, the validation of a row and the
documentation of the columns are all made from it.
"""

from dataclasses import dataclass
from typing import Literal

import polars as pl

Merge = Literal[
    "best known", "leading row", "first known", "first known in the currency", "size", "stamp", "whole sale"
]
"""How a column of a sale comes from the rows that record it (`sql/marts/settled_sales.sql`): its best-known value
(stated, then title, then inferred), the leading row's, that of the first row that knows it (in the leading row's
currency), with the rest of the best-known size or stamp, or from the sale as a whole."""

SizeSystem = Literal["UK", "EU", "US men", "US women", "JP", "mm"]

STATUSES: tuple[str, ...] = ("sold", "unsold", "withdrawn", "open")
UNDOINGS: tuple[str, ...] = ("returned", "refunded", "cancelled", "unpaid")
PARTS: tuple[str, ...] = ("deposit", "balance")
ENDINGS: tuple[str, ...] = (*STATUSES, *UNDOINGS, *PARTS)
"""What a word of an export can say of how an offer ended: as a record has it, undone, or paid in part."""
"""What undoes a sale, so that its row is none: what a buyer gave or got back, and orders that came to nothing."""

PRICE_BASES: tuple[str, ...] = ("hammer", "all-in", "net")
BOXES: tuple[str, ...] = ("original", "replacement", "none", "unknown")
TAGS: tuple[str, ...] = ("attached", "loose", "none", "unknown")
OVERLAYS: tuple[str, ...] = ("leather", "vinyl", "textile", "unknown")
LASTINGS: tuple[str, ...] = ("board", "foam", "unknown")
SIZE_SYSTEMS: tuple[str, ...] = ("UK", "EU", "US men", "US women", "JP", "mm")
FLAGS: tuple[str, ...] = (
    "era in conflict",
    "years of several eras",
    "stamp unreadable",
    "stamp runs backwards",
    "stamp in the future",
    "size label unreadable",
    "size conflict",
    "title and notes disagree",
    "sources disagree on the sale",
    "sources disagree on the pair",
    "price looks ten times too high",
    "price looks ten times too low",
    "rate is old",
    "sale undone",
    "part refunded",
    "deposit added",
)
HOLDING_FLAGS: tuple[str, ...] = (
    "era in conflict",
    "stamp runs backwards",
    "stamp in the future",
    "sources disagree on the sale",
)
"""The flags that exclude a record from the fit pending review."""

PRICE_FLAGS: tuple[str, ...] = ("price looks ten times too high", "price looks ten times too low")
"""The flags of a price that a fit takes for a typing error."""

UNKNOWN = "unknown"
ORIGINS: tuple[str, ...] = ("corrected", "stated", "title", "notes", "inferred")
"""Where a value comes from, the surest first: the owner's correction, a column, a text, what else is known."""

GRADES: tuple[float, ...] = tuple(step / 2 for step in range(2, 21))
FOOT_MM_RANGE: tuple[int, int] = (200, 340)
"""The foot lengths that an adult's or youth's pair can have, in mm (common practice, no source)."""

SIZE_STEP_MM = 5


@dataclass(frozen=True)
class Column:
    """One column of a sale record.

    `unit` is None for what has no unit; `allowed` is None for an open set. `source` says whether an
    export map may fill the column directly; `origin` says whether a companion column
    `<name>_origin` says where each value came from (ORIGINS, or unknown). `merge` says
    how the rows of one sale come together; `since` is the migration that brought the column into the ledger.
    """

    name: str
    dtype: pl.DataType
    sql_type: str
    meaning: str
    unit: str | None = None
    allowed: tuple[str, ...] | None = None
    source: bool = False
    origin: bool = False
    merge: Merge = "best known"
    since: int = 1

    @property
    def is_list(self) -> bool:
        """Whether a record may have several values of it."""
        return isinstance(self.dtype, pl.List)

    @property
    def may_be_unknown(self) -> bool:
        """Whether "unknown" is one of its values, so that it is never null in a sale."""
        return UNKNOWN in (self.allowed or ())


_TEXT = (pl.String(), "VARCHAR")
_DATE = (pl.Date(), "DATE")
_MONEY = (pl.Decimal(18, 4), "DECIMAL(18, 4)")
_REAL = (pl.Float64(), "DOUBLE")
_LIST = (pl.List(pl.String()), "VARCHAR[]")
_NATIVE = "in `currency`"
_BASE = "in the market file's base currency"

SALE_RECORD: tuple[Column, ...] = (
    Column("record_id", *_TEXT, "Key of the sale: a hash of what makes it one sale.", merge="whole sale"),
    Column(
        "venue", *_TEXT, "Where it was offered: a venue of the market file.", source=True, merge="leading row"
    ),
    Column(
        "sale_ref",
        *_TEXT,
        "The venue's own number of the auction or of the listing.",
        source=True,
        merge="first known",
    ),
    Column("lot_ref", *_TEXT, "The venue's own number of the lot.", source=True, merge="first known"),
    Column(
        "stock_ref",
        *_TEXT,
        "The owner's own stock number, where the export has it.",
        source=True,
        merge="first known",
    ),
    Column(
        "pair_key",
        *_TEXT,
        "The same for the same physical pair over years; null where it cannot be known.",
        merge="whole sale",
    ),
    Column(
        "title",
        *_TEXT,
        "The title as the venue gave it; contact details are masked.",
        source=True,
        merge="first known",
    ),
    Column(
        "notes",
        *_TEXT,
        "Free text as the venue gave it; contact details are masked.",
        source=True,
        merge="first known",
    ),
    Column("status", *_TEXT, "How the offer ended.", allowed=STATUSES, source=True, merge="leading row"),
    Column(
        "offered_on",
        *_DATE,
        "The day on which it was first offered.",
        "day",
        source=True,
        merge="first known",
    ),
    Column(
        "closed_on",
        *_DATE,
        "The day on which the offer ended, sold or not.",
        "day",
        source=True,
        merge="first known",
    ),
    Column(
        "sold_on",
        *_DATE,
        "The day of sale; null unless `status` is sold.",
        "day",
        source=True,
        merge="leading row",
    ),
    Column("currency", *_TEXT, "ISO 4217 code of the amounts stated.", source=True, merge="leading row"),
    Column("price_basis", *_TEXT, "What `price_native` counts.", allowed=PRICE_BASES, merge="leading row"),
    Column(
        "price_native",
        *_MONEY,
        'The price as stated by the export; 123.45 for 12345 cents where its map says `amounts = "minor"`.',
        _NATIVE,
        source=True,
        merge="leading row",
    ),
    Column(
        "all_in_native",
        *_MONEY,
        "What the buyer paid the venue, without freight and sales tax.",
        _NATIVE,
        merge="leading row",
    ),
    Column(
        "net_native",
        *_MONEY,
        "What the seller received, where the venue's seller fees are known.",
        _NATIVE,
        merge="leading row",
    ),
    Column(
        "ask_native",
        *_MONEY,
        "The asking price, or the low estimate of a lot.",
        _NATIVE,
        source=True,
        merge="first known in the currency",
    ),
    Column(
        "rate",
        *_REAL,
        "Units of `currency` for one unit of the base currency, at `rate_on`.",
        merge="leading row",
    ),
    Column(
        "rate_on",
        *_DATE,
        "The day of the exchange rate: the last known on or before the day of sale.",
        "day",
        merge="leading row",
    ),
    Column(
        "price_paid",
        *_MONEY,
        "All-in price at the day of sale; null unless sold.",
        _BASE,
        merge="leading row",
    ),
    Column(
        "ask_price",
        *_MONEY,
        "`ask_native` at the rate of `rate_on`.",
        _BASE,
        merge="first known in the currency",
    ),
    Column("maker", *_TEXT, "The maker's name in the market file.", source=True, origin=True),
    Column("silhouette", *_TEXT, "The silhouette's name in the market file.", source=True, origin=True),
    Column("colourway", *_TEXT, "The colourway's name under its silhouette.", source=True, origin=True),
    Column("era", *_TEXT, "The era's name in the market file.", source=True, origin=True),
    Column(
        "size_label",
        *_TEXT,
        "The size as printed on the label, verbatim.",
        source=True,
        origin=True,
        merge="size",
    ),
    Column(
        "size_system",
        *_TEXT,
        "The system that the label is in.",
        allowed=SIZE_SYSTEMS,
        source=True,
        merge="size",
    ),
    Column(
        "foot_mm",
        pl.Int32(),
        "INTEGER",
        "Foot length (ISO 9407), to place the size on one axis.",
        "mm",
        merge="size",
    ),
    Column("grade", *_REAL, "Condition, 1 to 10 by half.", "grade", source=True, origin=True),
    Column("box", *_TEXT, "The box that comes with it.", allowed=BOXES, source=True, origin=True),
    Column("tags", *_TEXT, "The hang tags of the original set.", allowed=TAGS, source=True, origin=True),
    Column("parts", *_LIST, "Other parts of the set (spare laces, booklet).", source=True, origin=True),
    Column("overlay", *_TEXT, "What the overlays are made of.", allowed=OVERLAYS, source=True, origin=True),
    Column("lasting", *_TEXT, "What the upper is lasted on.", allowed=LASTINGS, source=True, origin=True),
    Column(
        "defects",
        *_LIST,
        "Names of defects in the market file; null when not known.",
        source=True,
        origin=True,
    ),
    Column("treatments", *_LIST, "Treatments done; null when not known.", source=True, origin=True),
    Column(
        "stamp_text",
        *_TEXT,
        "The production stamp of the inside label, verbatim.",
        source=True,
        merge="stamp",
    ),
    Column("stamp_from", *_DATE, "First day of the stamp's first month.", "day", merge="stamp"),
    Column("stamp_to", *_DATE, "First day of the stamp's last month.", "day", merge="stamp"),
    Column("factory_code", *_TEXT, "The factory code of the stamp.", merge="stamp"),
    Column(
        "production_year",
        pl.Int32(),
        "INTEGER",
        "The year in which the stamp's window ends.",
        "year",
        merge="stamp",
    ),
    Column("flags", *_LIST, "What is odd about the record; see FLAGS.", allowed=FLAGS, merge="whole sale"),
    Column("held_out", pl.Boolean(), "BOOLEAN", "Excluded from the fit pending review.", merge="whole sale"),
)

COLUMN: dict[str, Column] = {column.name: column for column in SALE_RECORD}
SOURCE_FIELDS: tuple[str, ...] = tuple(column.name for column in SALE_RECORD if column.source)
"""The fields that an export map may fill from an export's own columns."""

STOCK_LISTING: tuple[Column, ...] = (
    Column("bought_on", *_DATE, "the day it was bought.", "day", source=True, since=7),
    Column("cost_currency", *_TEXT, "ISO 4217 code of its cost (`price_native`).", since=7),
    Column(
        "work_paid",
        *_MONEY,
        "what was spent on it since.",
        "in `work_currency`",
        source=True,
        since=7,
    ),
    Column("work_currency", *_TEXT, "ISO 4217 code of `work_paid`.", since=7),
    Column("ask_currency", *_TEXT, "ISO 4217 code of `ask_native`.", since=7),
    Column(
        "offered_at",
        *_TEXT,
        "where it is offered.",
        source=True,
        since=7,
    ),
    Column("pictures", *_LIST, "Names of its photographs.", since=7),
)
"""What a stock list says of a pair beside the columns of a sale record, of which `price_native` is its cost."""

STOCK_FIELDS: tuple[str, ...] = tuple(column.name for column in STOCK_LISTING if column.source)
"""The fields that an export map with `holds = "stock"` may fill beside SOURCE_FIELDS."""

QUANTITY = "quantity"
"""The field of an export, and of no sale record, that says how many pairs of one kind a line is of."""

PICTURE = "picture"
"""The field of a stock list, and of no sale record, that names the photographs of a pair, parted by ; or |."""

CLOSED_FIELDS: tuple[str, ...] = tuple(column.name for column in SALE_RECORD if column.may_be_unknown)
"""The attributes with a short list of allowed values, for which the market file has words."""


@dataclass(frozen=True)
class Factor:
    """What a term of the model may read of a pair: made of one column of a sale record, in one way.

    A number is rounded to the nearest multiple of `step`, where there is one; `missing` stands where the column is
    null. The month is that of the day in the column. `sql/macros/factors.jinja` makes factors of sales, and
    `pipeline.market.model.record_factors` of pairs that are valued.
    """

    name: str
    column: str
    dtype: pl.DataType
    sql_type: str
    step: int | None = None
    missing: str | None = None


def _as_recorded(name: str) -> Factor:
    """Return the factor that is a column as it stands, "unknown" where that is one of its values."""
    column = COLUMN[name]
    return Factor(
        name, name, column.dtype, column.sql_type, missing=UNKNOWN if column.may_be_unknown else None
    )


ALL_FACTORS: tuple[Factor, ...] = (
    *map(_as_recorded, ("silhouette", "colourway", "era")),
    Factor("size_mm", "foot_mm", pl.Int32(), "INTEGER", step=SIZE_STEP_MM),
    *map(_as_recorded, ("grade", "box", "tags", "overlay", "parts", "defects", "treatments", "venue")),
    Factor("month", "sold_on", pl.Int32(), "INTEGER"),
)
"""The factors that terms may read, in the order in which the waterfall takes them."""

FACTORS: dict[str, pl.DataType] = {factor.name: factor.dtype for factor in ALL_FACTORS}
"""The dtype of each factor, by its name."""

LISTS = tuple(name for name, dtype in FACTORS.items() if dtype.is_nested())
"""The factors of which a pair may have several values."""


def record_schema() -> dict[str, pl.DataType]:
    """Return name → dtype of every column of a sale record, origin columns included, in order."""
    schema: dict[str, pl.DataType] = {}
    for column in SALE_RECORD:
        schema[column.name] = column.dtype
        if column.origin:
            schema[f"{column.name}_origin"] = pl.String()
    return schema


def describe_columns() -> list[dict[str, str]]:
    """Return one row a column (name, type, unit, allowed, meaning), those that a stock list fills as well."""
    return [
        {
            "column": column.name,
            "type": column.sql_type,
            "unit": column.unit or "",
            "allowed": ", ".join(column.allowed or ()),
            "meaning": column.meaning if column.name in COLUMN else f"Of a stock list: {column.meaning}",
        }
        for column in (*SALE_RECORD, *(one for one in STOCK_LISTING if one.source))
    ]
