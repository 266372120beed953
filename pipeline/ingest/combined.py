"""Cells that hold several attributes of a pair ("43,5 / 8+ / box"): each part goes to the field that can read it."""

from collections.abc import Sequence
from functools import reduce

import polars as pl

from pipeline.config import ExportMap, Market
from pipeline.ingest.attributes import read_stated
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.fields import is_list, translated
from pipeline.ingest.lookup import look_up
from pipeline.ingest.sizes import read_sizes

ATTRIBUTES = (
    *("size_label", "grade", "maker", "silhouette", "era", "box", "tags", "overlay", "lasting"),
    *("parts", "defects", "treatments"),
)
"""The fields that may share a column."""

UNREAD: dict[str, pl.DataType] = {
    "place": pl.UInt32(),
    "field": pl.String(),
    "value": pl.String(),
    "reason": pl.String(),
}
_LONGEST = 1_000
"""Characters of a cell that was not read that are kept."""

_BETWEEN = "\x1f"
_SEPARATORS = r"\s+/\s+|\s*[|;\n•]\s*|,\s+|\s+[–—-]\s+"
_OF_TEN = r"(\d)/10\b"


def shared_columns(export_map: ExportMap) -> dict[str, list[str]]:
    """Return the columns from which the map reads several attributes, each with these fields."""
    shared: dict[str, list[str]] = {}
    for field in ATTRIBUTES:
        column = export_map.columns.get(field)
        if isinstance(column, str):
            shared.setdefault(column, []).append(field)
    return {column: fields for column, fields in shared.items() if len(fields) > 1}


def take_apart(
    fields: pl.DataFrame, export_map: ExportMap, market: Market
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the fields with the cells of shared columns taken apart, and the parts that no field took (UNREAD).

    A part goes to the one field that can read it. Where several can, those whose other parts are decided step
    back; what is open then is left unread rather than guessed. `place` counts the rows from zero.
    """
    unread = [pl.DataFrame(schema=UNREAD)]
    for names in shared_columns(export_map).values():
        cells = fields[names[0]]
        if cells.null_count() == cells.len():
            continue
        parts = split_cells(cells)
        taken = _assigned(parts, _candidates(parts, names, export_map, market), names)
        read = look_up(cells, _by_field(parts, taken, names, export_map))
        fields = fields.with_columns(read[name] for name in names)
        left = pl.DataFrame({"value": cells.str.head(_LONGEST), "reason": read["reason"]}).with_row_index(
            "place"
        )
        unread.append(
            left.filter(pl.col("reason").is_not_null()).select(
                "place", pl.lit(names[0]).alias("field"), "value", "reason"
            )
        )
    return fields, pl.concat(unread)


def split_cells(cells: pl.Series) -> pl.DataFrame:
    """Return cell, nth, part of the distinct cells, one row a part; a grade out of ten (8/10) is one part."""
    text = pl.col("cell").str.replace_all(_SEPARATORS, _BETWEEN)
    by_stroke = (
        text.str.replace_all(_OF_TEN, "${1}⁄10")
        .str.replace_all("/", _BETWEEN, literal=True)
        .str.replace_all("⁄", "/")
    )
    split = (
        pl.when(text.str.contains(_BETWEEN, literal=True)).then(text).otherwise(by_stroke).str.split(_BETWEEN)
    )
    return (
        distinct_texts(cells, "cell")
        .with_columns(part=split)
        .explode("part")
        .with_columns(pl.col("part").str.strip_chars())
        .filter(pl.col("part").str.len_bytes() > 0)
        .with_columns(nth=pl.int_range(pl.len()).over("cell"))
    )


def _candidates(
    parts: pl.DataFrame, names: Sequence[str], export_map: ExportMap, market: Market
) -> pl.DataFrame:
    """Return part, field: the fields that can read each distinct part."""
    distinct = distinct_texts(parts["part"], "part")
    words = {name: export_map.words.get(name) for name in names if not is_list(name)}
    texts = distinct.select(
        (translated(pl.col("part"), said) if (said := words.get(name)) else pl.col("part")).alias(name)
        for name in names
    )
    blank = [
        pl.lit(None, dtype=pl.String).alias(name) for name in (*ATTRIBUTES, "colourway") if name not in names
    ]
    stated = read_stated(
        texts.with_columns(blank), market, list_mark=export_map.list_mark, words=export_map.words
    )
    sized = _sized(distinct["part"], export_map.size_system if "size_label" in names else None)
    found = []
    for name in names:
        if name == "size_label":
            can = sized["size"]
        else:
            values, unread = stated[name]["value"], stated[name]["unread"]
            known = values.list.len() > 0 if is_list(name) else values.is_not_null()
            can = unread.is_null() & known & ~sized["named"]
        found.append(distinct.filter(can.fill_null(value=False)).with_columns(field=pl.lit(name)))
    return pl.concat(found)


def _sized(parts: pl.Series, system: str | None) -> pl.DataFrame:
    """Return, part by part, whether it is a size, and whether it names its system, so that it is nothing else."""
    size, named = (
        look_up(parts, read_sizes(parts, system=one))["foot_mm"].is_not_null() for one in (system, None)
    )
    return pl.DataFrame({"size": size, "named": named})


def _assigned(parts: pl.DataFrame, candidates: pl.DataFrame, names: Sequence[str]) -> pl.DataFrame:
    """Return cell, nth, field of the parts that one field alone can take, the others' fields being taken."""
    single = [name for name in names if not is_list(name)]
    open_parts = parts.join(candidates, on="part", how="inner").select("cell", "nth", "field")

    def settle(left: pl.DataFrame, _: int) -> pl.DataFrame:
        alone = pl.len().over("cell", "nth") == 1
        sure = left.filter(alone & pl.col("field").is_in(single)).select("cell", "field").unique()
        marked = left.with_columns(alone=alone).join(
            sure.with_columns(taken=pl.lit(value=True)),
            on=["cell", "field"],
            how="left",
            maintain_order="left",
        )
        return marked.filter(pl.col("alone") | pl.col("taken").is_null()).select("cell", "nth", "field")

    settled = reduce(settle, range(len(names)), open_parts)
    return settled.filter(pl.len().over("cell", "nth") == 1)


def _by_field(
    parts: pl.DataFrame, taken: pl.DataFrame, names: Sequence[str], export_map: ExportMap
) -> pl.DataFrame:
    """Return cell, each field's text, and reason (which parts no field took), one row a distinct cell."""
    all_parts = parts.join(taken, on=["cell", "nth"], how="left", maintain_order="left")
    texts = [
        pl.col("part")
        .filter(pl.col("field") == name)
        .str.join(export_map.list_mark if is_list(name) else " / ")
        .alias(name)
        for name in names
    ]
    left = pl.col("part").filter(pl.col("field").is_null())
    wanted = f"{', '.join(names[:-1])} or {names[-1]}"
    return (
        all_parts.group_by("cell", maintain_order=True)
        .agg(*texts, left.str.join(", ").alias("left"))
        .select(
            "cell",
            *(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name) for name in names),
            reason=pl.when(pl.col("left") != "").then(
                pl.format(f"the part {{}} is not clearly one of {wanted}", pl.col("left").str.head(_LONGEST))
            ),
        )
    )
