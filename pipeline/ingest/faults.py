"""Why a row cannot be a sale record: the first reason counts, with its field and value."""

from dataclasses import dataclass

import polars as pl

FAULT_COLUMNS = ("fault_field", "fault_value", "fault_reason")


@dataclass(frozen=True)
class Fault:
    """A reason to keep a row in quarantine, where `when` holds (a null counts as no)."""

    field: str
    when: pl.Expr
    value: pl.Expr
    reason: pl.Expr


def with_first_fault(rows: pl.DataFrame, faults: list[Fault]) -> pl.DataFrame:
    """Return the rows with fault_field, fault_value and fault_reason String: the first fault of each row.

    All three are null where a row has none; earlier faults are replaced. Values and reasons are
    worked out for the faulty rows only.
    """
    faulty = rows.select(pl.any_horizontal(fault.when.fill_null(False) for fault in faults)).to_series()
    numbered = rows.drop(FAULT_COLUMNS, strict=False).with_row_index("fault_row")
    field = value = reason = pl.lit(None, dtype=pl.String)
    for fault in reversed(faults):
        holds = fault.when.fill_null(False)
        field = pl.when(holds).then(pl.lit(fault.field)).otherwise(field)
        value = pl.when(holds).then(fault.value.cast(pl.String)).otherwise(value)
        reason = pl.when(holds).then(fault.reason).otherwise(reason)
    described = numbered.filter(faulty).select(
        "fault_row", fault_field=field, fault_value=value, fault_reason=reason
    )
    return numbered.join(described, on="fault_row", how="left", maintain_order="left").drop("fault_row")


def no_faults(rows: int) -> pl.DataFrame:
    """Return FAULT_COLUMNS of so many rows without a fault: nulls."""
    return pl.DataFrame(schema=dict.fromkeys(FAULT_COLUMNS, pl.String)).clear(rows)


def text(words: str) -> pl.Expr:
    """Return the words as they are."""
    return pl.lit(words)
