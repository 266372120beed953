"""Why a row cannot be a sale record: the first reason counts, with its field and value."""

from dataclasses import dataclass

import polars as pl


@dataclass(frozen=True)
class Fault:
    """A reason to keep a row in quarantine, where `when` holds (a null counts as no)."""

    field: str
    when: pl.Expr
    value: pl.Expr
    reason: pl.Expr


def first_fault(faults: list[Fault]) -> list[pl.Expr]:
    """Return the expressions fault_field, fault_value and fault_reason: the first fault of each row."""
    field = value = reason = pl.lit(None, dtype=pl.String)
    for fault in reversed(faults):
        holds = fault.when.fill_null(False)
        field = pl.when(holds).then(pl.lit(fault.field)).otherwise(field)
        value = pl.when(holds).then(fault.value.cast(pl.String)).otherwise(value)
        reason = pl.when(holds).then(fault.reason).otherwise(reason)
    return [field.alias("fault_field"), value.alias("fault_value"), reason.alias("fault_reason")]


def text(words: str) -> pl.Expr:
    """Return the words as they are."""
    return pl.lit(words)
