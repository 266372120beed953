"""Rows of an export that are no records (group headings, totals, repeated headers), and rows that lean on one above."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import polars as pl

from pipeline.alike import fold, fold_all
from pipeline.config import ExportMap
from pipeline.errors import MapError
from pipeline.ingest.headers import missing_columns, resolve_column
from pipeline.ingest.numbers import read_amounts
from pipeline.ingest.readers import TextTable

LEAST_CELLS = 3
"""A row with one filled cell is a heading where the usual row has so many or more."""

_WORDS = """
    total, totals, grand total, subtotal, sub-total, sum, summe, gesamt, gesamtsumme, zwischensumme, endsumme,
    insgesamt, somme, total general, sous-total, totale, subtotale, somma, suma, razem, lacznie, łącznie, ogółem,
    totaal, subtotaal, summa, totalt, delsumma, i alt, yhteensä, soma, total geral, celkem, součet, mezisoučet, 合計,
    小計, 総計, 総合計, итого, всего, összesen, mindösszesen, részösszeg, toplam, genel toplam, ara toplam, σύνολο,
    γενικό σύνολο, μερικό σύνολο, 합계, 총계, 소계, 總計, 合计, 总计, 小计
"""
"""The words by which a row says that it is a sum of others, in the languages of the trade."""

_BEGINNINGS = [
    *(
        "tot",
        "sub",
        "sous",
        "sum",
        "ges",
        "som",
        "zwi",
        "end",
        "ins",
        "raz",
        "lacz",
        "łącz",
        "ŁĄCZ",
        "ogół",
        "OGÓŁ",
    ),
    *("i alt", "del", "yht", "cel", "sou", "mez", "計", "итог", "Итог", "ИТОГ", "всег", "Всег", "ВСЕГ"),
    *("össz", "Össz", "ÖSSZ", "rész", "mind", "top", "gen", "ara", "计", "합", "총", "소"),
    *("σύν", "Σύν", "ΣΎΝ", "ΣΥΝ", "γεν", "Γεν", "ΓΕΝ", "μερ", "Μερ", "ΜΕΡ"),
]

_MARK = r"^[\s—–―=*#_~<>|•:.-]+|[\s—–―=*#_~<>|•:.-]+$"
_MARKED = r"^\s*[—–―=*#_~<>|•-].*\p{L}|\p{L}.*[—–―=*#_~<>|•:-]\s*$"
_DAY = r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[./-]\d{1,2}[./-]\d{2,4}|[年月日]"
_AMOUNT = r"^[\p{Sc}\s(+−-]*\p{L}{0,4}[\p{Sc}\s(+−-]*\d[\d.,'’\s]*[)−-]?\s*[\p{Sc}\p{L}]{0,4}\.?$"
_ONE_CELL = r"^the row has 1 cells and the header has (\d+)$"
_LONGEST_HEADING = 120
_ORDER_WORDS = re.compile(
    r"\b(?:order|orders|invoice|receipt|bestell\w*|auftrag\w*|rechnung\w*|beleg\w*|commande|facture|ordine|fattura|"
    r"pedido|factura|encomenda|fatura|bestelling|factuur|zamowieni\w*|faktur\w*|ordre|objednavk\w*|tilaus)\b|注文|伝票"
)
"""What the column is called that numbers the orders, folded."""

_PER_LINE = ("title", "price_native", "ask_native", "size_label", "lot_ref", "stock_ref")
"""Fields that a line has of its own: none of them is filled down unasked."""


def lay_out(table: TextTable, export_map: ExportMap | None, *, where: str) -> TextTable:
    """Return the table with records alone, each with the fields that the export writes once for several.

    Rows that are clearly no records are set aside, and a note counts them; they are not among the rows read. A
    group heading fills the column `group_heading` of the map. The columns of `fill_down` take the value above where
    the first of them is empty; unasked, those of an order are filled where the evidence is clear (`order_columns`).
    Raises MapError where the map names a column to fill that is not there.
    """
    down = _to_fill(table, export_map, where)
    kinds = _kinds(table, down, export_map)
    notes = [*table.notes, *_said(kinds)]
    name = None if export_map is None else export_map.group_heading
    if name is not None and not missing_columns(table.cells.columns, [name]):
        raise MapError(
            f"{where} has a column {name!r} of its own", "give `group_heading` in the map another name."
        )
    cells = table.cells
    if name is not None:
        cells = cells.with_columns(_headings_above(table.row_numbers, kinds).alias(name))
    kept = ~table.row_numbers.is_in(kinds["row_number"].implode()) if kinds.height else None
    faults = table.faults
    if kept is not None:
        cells = cells.filter(kept)
        faults = faults.filter(~pl.col("row_number").is_in(kinds["row_number"].implode()))
    if down:
        cells, filled = _filled_down(cells, down)
        if filled:
            notes.append(f"filled down from the row above in {filled:,} rows: {', '.join(down)}")
    rows = table.row_numbers if kept is None else table.row_numbers.filter(kept)
    return replace(table, cells=cells, row_numbers=rows, faults=faults, notes=tuple(notes))


def order_columns(cells: pl.DataFrame) -> list[str]:
    """Return the columns that only the first line of an order fills, or none where that is not clear.

    They begin with a column that is called by a word for an order. Each is empty in exactly the rows in which that
    one is; no order comes twice; each line below holds something of its own, and differs from the line above.
    """
    leading = next((name for name in cells.columns[:4] if _ORDER_WORDS.search(fold_all([name])[0])), None)
    if leading is None or cells.height < 2:
        return []
    empty = cells[leading].is_null()
    if empty[0] or not empty.any() or cells[leading].drop_nulls().is_duplicated().any():
        return []
    alike = [name for name in cells.columns if (cells[name].is_null() == empty).all()]
    own = [name for name in cells.columns if name not in alike]
    if len(alike) < 2 or len(own) < 2:
        return []
    lines = cells.select(own)
    same = lines.select(pl.all_horizontal(pl.all().eq_missing(pl.all().shift(1)))).to_series()
    holds = lines.select(pl.sum_horizontal(pl.all().is_not_null()) > 1).to_series()
    clear = bool(holds.filter(empty).all()) and not bool(same.filter(empty).any())
    return alike if clear else []


def _to_fill(table: TextTable, export_map: ExportMap | None, where: str) -> list[str]:
    if export_map is not None and export_map.fill_down is not None:
        return [resolve_column(table.cells.columns, name, where=where) for name in export_map.fill_down]
    found = order_columns(table.cells)
    if export_map is None or not found:
        return found
    per_line = {
        form
        for field in _PER_LINE
        if (names := export_map.columns.get(field)) is not None
        for form in fold_all((names,) if isinstance(names, str) else names)
    }
    read = {
        form
        for names in export_map.columns.values()
        for form in fold_all((names,) if isinstance(names, str) else names)
    }
    forms = dict(zip(found, fold_all(found), strict=True))
    return [
        name
        for at, name in enumerate(found)
        if forms[name] not in per_line and (at == 0 or forms[name] in read)
    ]


def _filled_down(cells: pl.DataFrame, names: Sequence[str]) -> tuple[pl.DataFrame, int]:
    """Return the cells with the columns filled from above where the first of them is empty, and in how many rows."""
    below = cells[names[0]].is_null()
    filled = cells.with_columns(
        pl.when(pl.lit(below))
        .then(pl.when(pl.lit(~below)).then(pl.col(name).fill_null("")).forward_fill())
        .otherwise(pl.col(name))
        .alias(name)
        for name in names
    ).with_columns(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name) for name in names)
    return filled, int((below & filled[names[0]].is_not_null()).sum())


def _kinds(table: TextTable, down: Sequence[str], export_map: ExportMap | None) -> pl.DataFrame:
    """Return row_number, kind ("group heading", "total", "repeated header") and text of rows that are no records."""
    cells, numbers = table.cells, table.row_numbers
    found = [pl.DataFrame(schema={"row_number": pl.Int64, "kind": pl.String, "text": pl.String})]
    if cells.height and cells.width >= LEAST_CELLS:
        filled = cells.select(pl.sum_horizontal(pl.all().is_not_null())).to_series()
        usual = int(filled.quantile(0.75, "higher") or 0)
        fewer = filled < usual
        sparse = filled <= max(usual // 2, 1)
        saying = fewer.arg_true().filter(_may_be_total(cells.filter(fewer)))
        sparse = sparse.scatter(saying, values=True) if saying.len() else sparse
        headers = cells.select(
            pl.all_horizontal(
                (pl.col(name) == name).fill_null(value=False) | pl.col(name).is_null()
                for name in cells.columns
            )
        ).to_series() & (filled > 1)
        found.append(_as_kind(numbers.filter(headers), "repeated header", cells.filter(headers)))
        if usual >= LEAST_CELLS and sparse.any():
            at = sparse & ~headers
            few, few_numbers, few_filled = cells.filter(at), numbers.filter(at), filled.filter(at)
            totals = _are_totals(cells, at, export_map, plain=table.numbers_are_plain)
            headings = _are_headings(few, few_filled, down, export_map) & ~totals
            found.append(_as_kind(few_numbers.filter(totals), "total", few.filter(totals)))
            found.append(_as_kind(few_numbers.filter(headings), "group heading", few.filter(headings)))
    lines = table.faults.filter(
        pl.col("reason").str.extract(_ONE_CELL).cast(pl.Int64, strict=False).fill_null(0) >= LEAST_CELLS
    ).select("row_number", text=pl.col("cells").str.json_path_match("$.line"))
    is_heading = pl.col("text").str.contains(_MARKED) & (pl.col("text").str.len_chars() <= _LONGEST_HEADING)
    marked = lines.filter(is_heading)
    found.append(marked.select("row_number", pl.lit("group heading").alias("kind"), "text"))
    return pl.concat(found).sort("row_number")


def _as_kind(numbers: pl.Series, kind: str, cells: pl.DataFrame) -> pl.DataFrame:
    text = (
        cells.select(pl.coalesce(pl.all()).alias("text"))
        if cells.height
        else pl.DataFrame({"text": []}, schema={"text": pl.String})
    )
    return text.select(numbers.alias("row_number"), pl.lit(kind).alias("kind"), "text")


@cache
def _totals() -> tuple[str, ...]:
    return tuple(fold_all(" ".join(_WORDS.split()).split(", ")))


def _is_total_word(name: str) -> pl.Expr:
    bare = fold(pl.col(name).str.replace_all(_MARK, "").str.replace(r"\s*\([^()]{0,20}\)$", ""))
    return bare.is_in(_totals()).fill_null(value=False)


def _may_be_total(cells: pl.DataFrame) -> pl.Series:
    """Whether a cell of each row is a word for a total, or an amount that holds the beginning of one.

    Few distinct texts hold the beginning of such a word, which is quickly seen; they alone are read.
    """
    found = pl.repeat(value=False, n=cells.height, dtype=pl.Boolean, eager=True)
    for cell in cells.iter_columns():
        begun = cell.filter(cell.str.contains_any(_BEGINNINGS, ascii_case_insensitive=True)).unique()
        said = begun.to_frame().filter(_is_total_word(cell.name) | pl.col(cell.name).str.contains(_AMOUNT))
        if said.height:
            found |= cell.is_in(said.to_series().implode()).fill_null(value=False)
    return found


def _are_totals(
    cells: pl.DataFrame, at: pl.Series, export_map: ExportMap | None, *, plain: bool
) -> pl.Series:
    """Whether each row that is looked at is a sum: it says so and holds amounts alone beside, or it adds up."""
    rows = cells.filter(at)
    amounts = {
        name: pl.col(name).str.contains(_AMOUNT) & ~pl.col(name).str.contains(_DAY) for name in rows.columns
    }
    says = rows.select(
        pl.any_horizontal(_is_total_word(name) for name in rows.columns)
        & pl.all_horizontal(
            pl.col(name).is_null() | _is_total_word(name) | amount for name, amount in amounts.items()
        )
    ).to_series()
    silent = rows.select(
        pl.all_horizontal(pl.col(name).is_null() | amount for name, amount in amounts.items())
    ).to_series()
    if not (silent & ~says).any():
        return says
    return says | (silent & _add_up(cells, at, silent, export_map, plain=plain))


def _add_up(
    cells: pl.DataFrame, at: pl.Series, silent: pl.Series, export_map: ExportMap | None, *, plain: bool
) -> pl.Series:
    """Whether an amount of each row that is looked at is the sum of two or more amounts above it in its column."""
    mark = "." if plain or export_map is None else export_map.decimal_mark
    positions = at.arg_true().to_list()
    adds = [False] * len(positions)
    for name in cells.columns:
        candidates = [
            nth
            for nth, is_silent in enumerate(silent)
            if is_silent and cells[name][positions[nth]] is not None
        ]
        if not candidates:
            continue
        read = read_amounts(cells[name], decimal_mark=mark).select("text", "amount")
        amounts = cells.select(text=name).join(read, on="text", how="left", maintain_order="left")["amount"]
        counted = amounts.set(at, None) if at.any() else amounts
        sums, times = counted.fill_null(0).cum_sum(), counted.is_not_null().cast(pl.Int64).cum_sum()
        before, times_before = 0, 0
        for nth in candidates:
            place = positions[nth]
            total, count = sums[place], times[place]
            whole, part = (total, count), (total - before, count - times_before)
            if any(amounts[place] == value and number > 1 for value, number in (whole, part)):
                adds[nth] = True
                before, times_before = total, count
    return pl.Series(adds, dtype=pl.Boolean)


def _are_headings(
    rows: pl.DataFrame, filled: pl.Series, down: Sequence[str], export_map: ExportMap | None
) -> pl.Series:
    """Whether each row is a heading: one cell of it is filled, with a text that is none of a pair.

    In a list of stock or lots a title alone may be a pair, and in lines below an order too: there the text must
    be set off by signs (— … —).
    """
    text = rows.select(pl.coalesce(pl.all()).alias("text")).to_series()
    words = text.str.contains(r"\p{L}") & (text.str.len_chars() <= _LONGEST_HEADING)
    marked = text.str.contains(_MARKED)
    if down or export_map is None or export_map.holds != "sales":
        return (filled == 1) & words & marked
    return (filled == 1) & words & (marked | rows[rows.columns[0]].is_not_null())


def _headings_above(numbers: pl.Series, kinds: pl.DataFrame) -> pl.Series:
    """Return, row by row, the group heading that stands above it, without the signs around it."""
    headings = kinds.filter(pl.col("kind") == "group heading").select(
        "row_number", heading=pl.col("text").str.replace_all(_MARK, "")
    )
    rows = numbers.to_frame("row_number").with_row_index("place")
    joined = rows.sort("row_number").join_asof(
        headings.sort("row_number"), on="row_number", strategy="backward"
    )
    return joined.sort("place")["heading"]


@dataclass(frozen=True)
class _Kind:
    """A kind of row that is no record: what one and several are called."""

    one: str
    several: str


_KINDS = {
    "group heading": _Kind("group heading", "group headings"),
    "total": _Kind("total", "totals"),
    "repeated header": _Kind("repeated header", "repeated headers"),
}


def _said(kinds: pl.DataFrame) -> list[str]:
    """Return a sentence for each kind of rows that were set aside."""
    said = []
    for (kind,), rows in kinds.group_by("kind", maintain_order=True):
        words = _KINDS[str(kind)]
        first = rows.row(0, named=True)
        what = (
            f"1 row is a {words.one} and no record"
            if rows.height == 1
            else f"{rows.height:,} rows are {words.several} and no records"
        )
        said.append(f"{what}: set aside (first in row {first['row_number']}: {str(first['text'])[:60]!r})")
    return said
