"""The fields of a sale as a form: to correct a record, and to add a sale by hand."""

import re
from collections.abc import Mapping
from typing import Any

from pipeline.answers.understood.tables import field_title
from pipeline.config import Market
from pipeline.desk.forms import Field
from pipeline.ingest.put_right import shown
from pipeline.ingest.rereading import AMOUNTS, DAYS
from pipeline.schema import COLUMN, GRADES, PRICE_BASES, SOURCE_FIELDS, UNKNOWN
from pipeline.untrusted import show_words

FIELDS = (
    *("venue", "status", "sold_on", "price_native", "currency", "price_basis"),
    *("silhouette", "colourway", "era", "size_label", "grade", "box", "tags"),
    *("defects", "treatments", "parts", "overlay", "lasting", "stamp_text"),
)
"""The fields that are asked for first, in this order; all others follow."""

REASON = "reason"
MOST_SIGNS = 20_000
"""The characters of a field that its form holds: more than a cell has."""

_HINTS = {
    "size_label": "With its system: UK 9, EU 43 1/3, 275 mm",
    "grade": "1 to 10 by half, or your word for it",
    "price_basis": "What the price counts",
    "defects": "Several parted by commas, or none",
    "treatments": "Several parted by commas, or none",
    "parts": "Several parted by commas, or none",
    "currency": "Such as EUR",
}


def field_names() -> tuple[str, ...]:
    """Return every field of a sale that the owner may state, those first that are asked for first."""
    every = (*SOURCE_FIELDS, "price_basis")
    return (*FIELDS, *(name for name in every if name not in FIELDS))


def present_values(record: Mapping[str, Any]) -> dict[str, str]:
    """Return the present value of each field as the owner would type it; "" where it is not known."""
    values = {}
    for name in field_names():
        text = shown(record.get(name))
        if name in AMOUNTS and text is not None:
            text = f"{float(text):.2f}"
        values[name] = "" if text in (None, UNKNOWN) else show_words(str(text), MOST_SIGNS)
    return values


def fields_of(
    values: Mapping[str, str], market: Market | None, faults: Mapping[str, str] | None = None
) -> list[Field]:
    """Return the fields of a sale, filled with `values`, with what is wrong of each."""
    offered = _offered(market, values.get("silhouette", ""))
    return [_field(name, values.get(name, ""), offered.get(name, ()), faults or {}) for name in field_names()]


def reason_of(said: Mapping[str, str]) -> Field:
    """Return the field for the owner's reason."""
    return Field(
        REASON, "Reason", "text", "Why, for yourself; it may stay empty.", value=said.get(REASON, "")
    )


def changed_fields(said: Mapping[str, str], present: Mapping[str, str]) -> dict[str, str]:
    """Return field → text of what was typed where it is not the present value."""
    return {
        name: said[name].strip()
        for name in field_names()
        if name in said and said[name].strip() != present.get(name, "")
    }


def fault_at(words: str, said: Mapping[str, str]) -> dict[str, str]:
    """Return the field that an error is of, and its words; of none, under ""."""
    called = {one.lower(): name for name in said for one in (name, field_title(name))}
    begins = re.match(r"([a-z_ ]+?)(?: is| '|:| \")", words, re.IGNORECASE)
    name = called.get(begins[1].lower(), "") if begins else ""
    if words.lower().startswith("a sale needs its venue"):
        name = "venue"
    elif words.lower().startswith("a sale needs its price"):
        name = "price_native"
    return {name: words}


def _field(name: str, value: str, offered: tuple[str, ...], faults: Mapping[str, str]) -> Field:
    kind = "text"
    allowed = PRICE_BASES if name == "price_basis" else COLUMN[name].allowed
    if name in DAYS:
        kind = "day"
    elif name == "venue" or allowed:
        kind = "choice"
        offered = offered or tuple(one for one in allowed or () if one != UNKNOWN)
        if value and value not in offered:
            offered = (value, *offered)
    elif name in AMOUNTS:
        kind = "number"
    elif name == "notes":
        kind = "long"
    title = field_title(name)
    return Field(
        name,
        title[:1].upper() + title[1:].replace("_", " "),
        kind,
        _HINTS.get(name, ""),
        offered,
        value,
        faults.get(name, ""),
    )


def _offered(market: Market | None, silhouette: str) -> dict[str, tuple[str, ...]]:
    """Return the market file's own names for fields; the colourways are those of the silhouette."""
    if market is None:
        return {}
    return {
        "venue": tuple(market.venue_by_name),
        "maker": tuple(one.name for one in market.makers),
        "silhouette": tuple(one.name for one in market.silhouettes),
        "colourway": tuple(
            one.name for of in market.silhouettes if of.name == silhouette for one in of.colourways
        ),
        "era": tuple(one.name for one in market.eras),
        "grade": tuple(f"{grade:g}" for grade in GRADES),
        "defects": ("none", *(one.name for one in market.defects)),
        "treatments": ("none", *(one.name for one in market.treatments)),
        "parts": ("none", *(one.name for one in market.parts)),
        "currency": tuple(
            dict.fromkeys((market.base_currency, *(venue.currency for venue in market.venues)))
        ),
    }
