"""An export with the columns of a sale record maps itself: each field is read from the column of its own name."""

import polars as pl

from pipeline.alike import find_alike, fold_all
from pipeline.config import ExportMap, Market
from pipeline.ingest.dates import decide_date_order
from pipeline.ingest.numbers import decide_decimal_mark
from pipeline.schema import COLUMN, PRICE_BASES, SOURCE_FIELDS

MAP_NAME = "own columns"
"""What the map of such an export is called where the market file has none for it."""

_LEAST_COLUMNS = 4
_MOSTLY = 0.9
_DAYS = ("offered_on", "closed_on", "sold_on")


def map_of_own_columns(cells: pl.DataFrame, market: Market, files: str) -> ExportMap | None:
    """Return the map of an export whose headings are those that `pairband columns` lists, else None.

    Nine headings in ten must be such columns, and the price must be plain: `price_native` under one
    `price_basis`, else `all_in_native`, else `price_paid` in the base currency.
    """
    names = dict(zip(fold_all(cells.columns), cells.columns, strict=True))
    own = {name: names[name] for name in COLUMN if name in names}
    known = sum(name.removesuffix("_origin") in COLUMN for name in names)
    if len(own) < _LEAST_COLUMNS or known < _MOSTLY * len(names):
        return None
    price = _price(cells, own, market)
    venue = _venue(cells, own, market)
    if price is None or venue is None:
        return None
    column, basis, currency = price
    fields = {
        name: own[name]
        for name in SOURCE_FIELDS
        if name in own and name != "price_native" and cells[own[name]].count() > 0
    }
    if currency is not None:
        fields = {name: heading for name, heading in fields.items() if name not in ("currency", "ask_native")}
    amounts = [column, *(fields[name] for name in ("ask_native",) if name in fields)]
    days = [fields[name] for name in _DAYS if name in fields]
    own_map = ExportMap.model_validate(
        {
            "venue": venue,
            "files": "*",
            "date_order": decide_date_order(_texts(cells, days)).value or "ymd",
            "decimal_mark": decide_decimal_mark(_texts(cells, amounts)).value or ".",
            "price_basis": basis,
            "currency": currency,
            "columns": fields | {"price_native": column},
        }
    )
    return own_map.model_copy(update={"files": files})


def _texts(cells: pl.DataFrame, columns: list[str]) -> pl.Series:
    texts = [cells[name].alias("text") for name in columns]
    return pl.concat(texts).drop_nulls() if texts else pl.Series("text", dtype=pl.String)


def _price(
    cells: pl.DataFrame, own: dict[str, str], market: Market
) -> tuple[str, str | None, str | None] | None:
    """Return the column of the price, its basis, and its currency where no column says it."""
    filled = {name: heading for name, heading in own.items() if cells[heading].count() > 0}
    bases = cells[own["price_basis"]].drop_nulls().unique().to_list() if "price_basis" in own else []
    if "price_native" in filled and len(bases) == 1 and bases[0] in PRICE_BASES:
        return filled["price_native"], bases[0], None
    if "all_in_native" in filled:
        return filled["all_in_native"], "all-in", None
    if "price_paid" in filled:
        return filled["price_paid"], "all-in", market.base_currency
    return None


def _venue(cells: pl.DataFrame, own: dict[str, str], market: Market) -> str | None:
    """Return the venue of most rows, or the only one there is."""
    names = [venue.name for venue in market.venues]
    if "venue" not in own:
        return names[0] if len(names) == 1 else None
    stated = cells[own["venue"]].drop_nulls().value_counts(sort=True).rows()
    usual = sorted(stated, key=lambda one: (-one[1], one[0]))
    return next((found for name, _ in usual if (found := find_alike(name, names)) is not None), None)
