"""Amounts that an export writes in minor units (12345 for 123.45), as the amounts that they are."""

from dataclasses import dataclass
from decimal import Decimal

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.ingest.faults import FAULT_COLUMNS, Fault, no_faults, text, with_first_fault
from pipeline.ingest.fields import TAX
from pipeline.ingest.lookup import look_up
from pipeline.ingest.numbers import AMOUNT, currency_precisions, read_amounts
from pipeline.ingest.offers import low_ends, read_currencies, usual_currency

_AMOUNTS = ("price_native", "ask_native", TAX, "work_paid")
_ZEROS = r"\.?0+$"
_NOT_WHOLE = 'it has decimals, and the map says `amounts = "minor"`: cents and the like are whole numbers'


@dataclass(frozen=True)
class MajorUnits:
    """The fields with amounts in the currency itself, and FAULT_COLUMNS of rows whose amounts are no whole numbers."""

    fields: pl.DataFrame
    faults: pl.DataFrame


def in_major_units(fields: pl.DataFrame, export_map: ExportMap, market: Market) -> MajorUnits:
    """Return the fields as text, with the amounts of a map of minor units written in the currency of their row.

    How many digits a currency's minor unit has is that of Unicode CLDR: two of the euro and the forint, none of the
    yen and the won, three of the dinar of Kuwait. A cell that is no amount stays as it is, to be refused like any.
    """
    if export_map.amounts == "major":
        return MajorUnits(fields, no_faults(fields.height))
    usual = usual_currency(export_map, market)
    stated = look_up(fields["currency"], read_currencies(fields["currency"]))["currency_stated"]
    written, broken, faults = [], [], []
    for name in (one for one in _AMOUNTS if one in fields.columns):
        cells = low_ends(fields[name]) if name == "ask_native" else fields[name]
        read = look_up(cells, read_amounts(cells, decimal_mark=export_map.decimal_mark, currency=usual))
        of_row = read.select(
            cell=fields[name],
            amount="amount",
            own="currency",
            code=pl.coalesce(pl.lit(stated), "currency", pl.lit(usual)),
        )
        stated = pl.select(pl.coalesce(stated, of_row["own"])).to_series()
        broken.append(of_row.select((pl.col("amount") % 1 != 0).alias(f"{name}_broken")).to_series())
        faults.append(Fault(name, pl.col(f"{name}_broken"), pl.col(name), text(_NOT_WHOLE)))
        written.append(of_row.select(_in_major(export_map.decimal_mark).alias(name)).to_series())
    judged = with_first_fault(fields.with_columns(broken), faults).select(FAULT_COLUMNS)
    return MajorUnits(fields.with_columns(written), judged)


def _in_major(mark: str) -> pl.Expr:
    """Return each cell's amount over its currency's minor units, with the currency that the cell names."""
    precisions = currency_precisions()
    precision = pl.col("code").replace_strict(precisions, default=0, return_dtype=pl.Int64)
    major = pl.coalesce(
        pl.when(precision == digits).then((pl.col("amount") / Decimal(10**digits)).cast(AMOUNT))
        for digits in sorted({0, *precisions.values()})
    )
    number = major.cast(pl.String).str.replace(_ZEROS, "").str.replace(".", mark, literal=True)
    named = pl.concat_str([pl.col("own"), number], separator=" ", ignore_nulls=True)
    return pl.when(pl.col("amount").is_null()).then("cell").otherwise(named)
