"""From an export's columns to the fields of a sale record, still as text."""

import polars as pl

from pipeline.alike import fold, fold_keys
from pipeline.config import ExportMap
from pipeline.ingest.faults import FAULT_COLUMNS, Fault, no_faults, with_first_fault
from pipeline.ingest.headers import resolve_column
from pipeline.ingest.readers import Hints
from pipeline.ingest.readers.limits import LONGEST_CELL
from pipeline.schema import COLUMN, PICTURE, QUANTITY, SOURCE_FIELDS, STOCK_FIELDS

_THOUSANDS = r"^-?\d{1,3}(\.\d{3})+$"
_PLAIN_NUMBER = r"^-?\d+\.\d+$"
TAX = "tax"
"""The column of `read_fields` that holds the tax which a price is without."""

_AMOUNTS = ("price_native", "ask_native", TAX, "work_paid")


def mapped_columns(export_map: ExportMap) -> tuple[str, ...]:
    """Return the names of the export's columns that the map reads, each once, in its order."""
    names: dict[str, None] = {}
    for columns in export_map.columns.values():
        names.update(dict.fromkeys((columns,) if isinstance(columns, str) else columns))
    if export_map.tax_column is not None:
        names[export_map.tax_column] = None
    return tuple(names | dict.fromkeys(export_map.skip))


def columns_of_export(export_map: ExportMap) -> tuple[str, ...]:
    """Return the columns that an export must have for its map: those that are read, but the one of group headings."""
    read = dict.fromkeys((*mapped_columns(export_map), *(export_map.fill_down or ())))
    return tuple(name for name in read if name != export_map.group_heading)


def map_hints(export_map: ExportMap) -> Hints:
    """Return what the map says of the file before it is read."""
    return Hints(
        encoding=export_map.encoding,
        delimiter=export_map.delimiter,
        header_row=export_map.header_row,
        sheets=export_map.sheets,
        wanted=columns_of_export(export_map),
        records=export_map.records,
    )


def is_list(field: str) -> bool:
    """Whether a field holds a list."""
    return field in COLUMN and COLUMN[field].is_list


def read_fields(
    cells: pl.DataFrame, export_map: ExportMap, *, numbers_are_plain: bool, where: str
) -> pl.DataFrame:
    """Return one String column a field of SOURCE_FIELDS, TAX, QUANTITY and PICTURE; one that no column fills is null.

    Of a stock list there is one a field of STOCK_FIELDS, too. A field of several columns joins what they hold, with the
    list mark (lists) or a space. Words that the map translates are replaced. `cells` holds no blank cells (the readers
    make them null). Raises MapError for a column that is not there.
    """
    picked = []
    read = dict(export_map.columns)
    if export_map.tax_column is not None:
        read[TAX] = export_map.tax_column
    of_stock = STOCK_FIELDS if export_map.holds == "stock" else ()
    for field in (*SOURCE_FIELDS, TAX, QUANTITY, PICTURE, *of_stock):
        if field not in read:
            picked.append(pl.lit(None, dtype=pl.String).alias(field))
            continue
        names = read[field]
        columns = [
            pl.col(resolve_column(cells.columns, name, where=where))
            for name in ((names,) if isinstance(names, str) else names)
        ]
        mark = ";" if field == PICTURE else export_map.list_mark if is_list(field) else " "
        joined = (
            columns[0] if len(columns) == 1 else pl.concat_str(columns, separator=mark, ignore_nulls=True)
        )
        text = joined.str.strip_chars()
        if len(columns) > 1:
            text = pl.when(text.str.len_bytes() > 0).then(text)
        if field in _AMOUNTS and numbers_are_plain and export_map.decimal_mark == ",":
            text = _with_comma(text)
        if export_map.words.get(field) and not is_list(field):
            text = translated(text, export_map.words[field])
        picked.append(text.alias(field))
    return cells.select(picked)


def without_long_cells(fields: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the fields without cells that are longer than any spreadsheet's, and FAULT_COLUMNS for their rows.

    No reader of titles, days or amounts is given such a cell; its row goes to quarantine.
    """
    long = [name for name in fields.columns if (fields[name].str.len_bytes() > LONGEST_CELL).any()]
    faults = [
        Fault(
            name,
            pl.col(name).str.len_bytes() > LONGEST_CELL,
            pl.col(name).str.head(200),
            pl.lit(f"a cell of more than {LONGEST_CELL:,} characters; its first two hundred are shown"),
        )
        for name in long
    ]
    if not faults:
        return fields, no_faults(fields.height)
    faulty = with_first_fault(fields, faults).select(FAULT_COLUMNS)
    return fields.with_columns(
        pl.when(~fault.when).then(fault.field).alias(fault.field) for fault in faults
    ), faulty


def translated(text: pl.Expr, words: dict[str, str]) -> pl.Expr:
    """Return the text with each whole cell that is one of the words replaced by what the word means."""
    return fold(text).replace_strict(fold_keys(words), default=text, return_dtype=pl.String)


def _with_comma(text: pl.Expr) -> pl.Expr:
    """Write a number that the format stores (1234.5) with the map's decimal comma; 1.234 stays as it is."""
    stored = text.str.contains(_PLAIN_NUMBER) & ~text.str.contains(_THOUSANDS)
    return pl.when(stored).then(text.str.replace(".", ",", literal=True)).otherwise(text)
