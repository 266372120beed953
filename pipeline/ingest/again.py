"""Files that come again: which rows of an export are those of an earlier reading, and whether it takes its place.

Rows are compared by their cells as they were written, with contact details masked.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.alike import fold_all
from pipeline.config import ExportMap
from pipeline.ingest.dates import read_dates
from pipeline.ingest.fields import mapped_columns, read_fields
from pipeline.ingest.lookup import look_up

Verdict = Literal["replace", "add", "unclear"]

ALIKE = 0.5
"""The least share of cells that two versions of one row have in common, and of rows that two of one file have."""

FEW = 0.1
"""Where no larger share of the earlier rows comes again, the file is none of its versions."""

APART = 0.9
"""The share of the rows whose days must lie outside those of the other file, for one of another period."""

_RARE = 20
"""A cell that more rows have says nothing of which row is which."""

_NUMBERS = ("sale_ref", "lot_ref", "stock_ref")
_DAYS = ("sold_on", "closed_on", "offered_on")


@dataclass(frozen=True)
class Alike:
    """How the rows of an export compare with those of an earlier reading.

    pairs
        earlier and later (positions in the two frames, UInt32), is_same (no cell changed), is_sure (no day changed),
        is_in_place (it is where it was), is_dated (so it is, and its days alone changed): one row a row that comes
        again.
    earlier, later
        at (its position), sheet, row_number, day, and its cells, c0, c1 and so on: one row a row.
    headings
        Those that the map reads, in the order of the cells.
    """

    pairs: pl.DataFrame
    earlier: pl.DataFrame
    later: pl.DataFrame
    headings: tuple[str, ...]

    @property
    def cells(self) -> dict[str, str]:
        """The columns of cells with their headings."""
        return dict(zip(_names(self.headings), self.headings, strict=True))

    @property
    def gone(self) -> pl.DataFrame:
        """The earlier rows that do not come again."""
        return self.earlier.join(self.pairs, left_on="at", right_on="earlier", how="anti")

    @property
    def fresh(self) -> pl.DataFrame:
        """The later rows that were not there before."""
        return self.later.join(self.pairs, left_on="at", right_on="later", how="anti")

    @property
    def changed(self) -> pl.DataFrame:
        """The rows that come again with other cells."""
        return self.pairs.filter(~pl.col("is_same"))

    @property
    def verdict(self) -> Verdict:
        """Whether the export takes the place of the reading, adds to it, or which of the two is unclear.

        It takes its place where at least half of the rows come again; but an export of the last weeks, whose window
        has moved past the missing rows, adds. So does one of another period, that has few of the rows or none.
        """
        rows = self.earlier.height
        sure, dated = (int(self.pairs[name].sum()) for name in ("is_sure", "is_dated"))
        moved_on = self._window_moved()
        if moved_on and not self.changed.height:
            return "add"
        if sure >= ALIKE * rows:
            return "unclear" if moved_on else "replace"
        if sure > FEW * rows or dated >= ALIKE * rows:
            return "unclear"
        return "add" if self._periods_differ() else "unclear"

    def _window_moved(self) -> bool:
        """Whether the rows that are missing all lie before the first day of the export, and the others moved up.

        Where most rows are in their old places, none has left a window.
        """
        gone, days = self.gone["day"], self.later["day"]
        if not self.fresh.height or not gone.len() or gone.null_count() or not days.count():
            return False
        in_place = int(self.pairs["is_in_place"].sum())
        return bool((gone < days.min()).all()) and 2 * in_place <= self.pairs.height

    def _periods_differ(self) -> bool:
        """Whether nearly all days of the export lie before or after those of the earlier reading."""
        days, others = self.later["day"].drop_nulls(), self.earlier["day"].drop_nulls()
        if not days.len() or not others.len():
            return False
        outside = max((days > others.max()).sum(), (days < others.min()).sum())
        return outside >= APART * days.len()


def compare_rows(earlier: pl.DataFrame, later: pl.DataFrame, export_map: ExportMap) -> Alike:
    """Compare the rows of an export with those of an earlier reading under the same map.

    Both hold sheet String, row_number Int64 and cells String (a JSON object of heading and text). A row comes again
    unchanged, else under its own number, with one cell changed, in its old place, or as the one row that is most
    like it; in each case at least half of its cells are alike.
    """
    headings = mapped_columns(export_map)
    old, new = (_taken_apart(frame, export_map) for frame in (earlier, later))
    rest = _Rest(old, new, _equal(old, new), _names(headings))
    for found in (_numbered, _but_one, _placed, _nearest):
        rest = rest.without(found(rest))
    return Alike(
        _described(rest.pairs, old, new, export_map),
        old.drop("number", "whole"),
        new.drop("number", "whole"),
        headings,
    )


def _names(headings: tuple[str, ...]) -> tuple[str, ...]:
    """Return what the columns of cells are called, whatever the export calls them."""
    return tuple(f"c{place}" for place in range(len(headings)))


@dataclass(frozen=True)
class _Rest:
    """Two files' rows, those that were found to come again (`pairs`: earlier, later), and the columns compared."""

    old: pl.DataFrame
    new: pl.DataFrame
    pairs: pl.DataFrame
    cells: tuple[str, ...]

    @property
    def left(self) -> pl.DataFrame:
        """The earlier rows that were not found yet."""
        return self.old.join(self.pairs, left_on="at", right_on="earlier", how="anti")

    @property
    def right(self) -> pl.DataFrame:
        """The later rows that were not found yet."""
        return self.new.join(self.pairs, left_on="at", right_on="later", how="anti")

    def without(self, found: pl.DataFrame) -> "_Rest":
        """Return the rest once these candidates (earlier, later) are taken that are alike, each row once."""
        if found.height == 0:
            return self
        alike = (
            _with_share(found, self.old, self.new, self.cells)
            .filter(pl.col("share") >= ALIKE)
            .filter(pl.len().over("earlier") == 1, pl.len().over("later") == 1)
        )
        return _Rest(
            self.old, self.new, pl.concat([self.pairs, alike.select("earlier", "later")]), self.cells
        )


def _taken_apart(rows: pl.DataFrame, export_map: ExportMap) -> pl.DataFrame:
    """Return rows with their cells in columns, their day and number, and `whole`, all their cells as one text."""
    headings = mapped_columns(export_map)
    texts = rows.unique("sheet", keep="first", maintain_order=True)["cells"].to_list()
    keys = list(dict.fromkeys(key for text in texts for key in _keys(text)))
    forms = dict(zip(keys, fold_all(keys), strict=True))
    read = rows["cells"].str.json_decode(pl.Struct(dict.fromkeys(keys or headings, pl.String())))
    alike = [[pl.col(key) for key in keys if forms[key] == form] for form in fold_all(headings)]
    cells = read.struct.unnest().select(
        pl.coalesce(found or [pl.lit(None, dtype=pl.String)]).alias(name)
        for name, found in zip(_names(headings), alike, strict=True)
    )
    named = cells.rename(dict(zip(cells.columns, headings, strict=True)))
    fields = read_fields(named, export_map, numbers_are_plain=False, where="the earlier reading")
    days = [
        look_up(
            fields[field],
            read_dates(fields[field], order=export_map.date_order, language=export_map.language),
        )["day"]
        for field in _DAYS
    ]
    blank = pl.all_horizontal(pl.all().is_null())
    whole = pl.concat_str(pl.all().fill_null("\x1d"), separator="\x1f")
    return pl.concat(
        [
            rows.select("sheet", "row_number").with_row_index("at"),
            cells,
            cells.select(whole=pl.when(blank).then(rows["cells"]).otherwise(whole)),
            fields.select(
                number=pl.when(pl.any_horizontal(pl.col(_NUMBERS).is_not_null())).then(
                    pl.concat_str([pl.col(name).fill_null("\x1d") for name in _NUMBERS], separator="\x1f")
                )
            ),
            pl.select(day=pl.coalesce(days)),
        ],
        how="horizontal",
    )


def _keys(text: str) -> Iterable[str]:
    read = json.loads(text)
    return read if isinstance(read, dict) else ()


def _equal(old: pl.DataFrame, new: pl.DataFrame) -> pl.DataFrame:
    """Return the rows whose cells are all alike, in their order."""
    one, other = (
        frame.select("at", "whole", turn=pl.int_range(pl.len()).over("whole")) for frame in (old, new)
    )
    return one.join(other, on=["whole", "turn"], suffix="_later").select(earlier="at", later="at_later")


def _numbered(rest: _Rest) -> pl.DataFrame:
    """Return the rows of one number, where that is one row's alone in either file."""
    sides = [
        side.select("at", "number").drop_nulls().filter(pl.len().over("number") == 1)
        for side in (rest.left, rest.right)
    ]
    return sides[0].join(sides[1], on="number", suffix="_later").select(earlier="at", later="at_later")


def _but_one(rest: _Rest) -> pl.DataFrame:
    """Return the rows of which all cells but one are alike, where either file has equally many of the kind."""
    left, right = rest.left, rest.right
    found = []
    for name in rest.cells:
        others = [other for other in rest.cells if other != name]
        one, other = (
            side.filter(pl.any_horizontal(pl.col(others).is_not_null()))
            .select("at", key=pl.struct(others).hash())
            .with_columns(turn=pl.int_range(pl.len()).over("key"), of=pl.len().over("key"))
            for side in (left, right)
        )
        found.append(one.join(other, on=["key", "turn", "of"], suffix="_later").select("at", "at_later"))
    if not found:
        return rest.pairs.clear()
    taken = pl.concat(found).unique("at", keep="first", maintain_order=True)
    return taken.unique("at_later", keep="first", maintain_order=True).select(earlier="at", later="at_later")


def _placed(rest: _Rest) -> pl.DataFrame:
    """Return the rows in one place."""
    return rest.left.join(rest.right, on=["sheet", "row_number"], suffix="_later").select(
        earlier="at", later="at_later"
    )


def _nearest(rest: _Rest) -> pl.DataFrame:
    """Return each row with the one that shares the most of its rare cells, where that is one row alone."""
    sides = []
    for side in (rest.left, rest.right):
        cells = side.unpivot(rest.cells, index="at", variable_name="heading", value_name="cell").drop_nulls()
        sides.append(cells.filter(pl.len().over("heading", "cell") <= _RARE))
    shared = (
        sides[0]
        .join(sides[1], on=["heading", "cell"], suffix="_later")
        .group_by("at", "at_later")
        .agg(shared=pl.len())
    )
    best = shared.filter(
        pl.col("shared") == pl.col("shared").max().over("at"),
        pl.col("shared") == pl.col("shared").max().over("at_later"),
    )
    return best.select(earlier="at", later="at_later")


def _beside(pairs: pl.DataFrame, old: pl.DataFrame, new: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs with the columns of either row, those of the later one ending in "_later"."""
    return pairs.join(old, left_on="earlier", right_on="at", maintain_order="left").join(
        new, left_on="later", right_on="at", suffix="_later", maintain_order="left"
    )


def _with_share(
    pairs: pl.DataFrame, old: pl.DataFrame, new: pl.DataFrame, headings: Iterable[str]
) -> pl.DataFrame:
    """Return the pairs with `share`: how many of the cells that either row has are alike."""
    same = [pl.col(name) == pl.col(f"{name}_later") for name in headings]
    either = [pl.col(name).is_not_null() | pl.col(f"{name}_later").is_not_null() for name in headings]
    return _beside(pairs, old, new).select(
        "earlier", "later", share=pl.sum_horizontal(same) / pl.sum_horizontal(either)
    )


def _described(
    pairs: pl.DataFrame, old: pl.DataFrame, new: pl.DataFrame, export_map: ExportMap
) -> pl.DataFrame:
    """Return the pairs in the order of the later rows, with is_same and is_sure."""
    headings = mapped_columns(export_map)
    said = [export_map.columns[field] for field in _DAYS if field in export_map.columns]
    of_days = {heading for one in said for heading in ((one,) if isinstance(one, str) else one)}
    names = dict(zip(_names(headings), headings, strict=True))
    days = [name for name, heading in names.items() if heading in of_days]
    changed = {name: pl.col(name).ne_missing(pl.col(f"{name}_later")) for name in names}
    known = {name: pl.col(name).is_not_null() & pl.col(f"{name}_later").is_not_null() for name in days}
    day_changed = _any(changed[name] & known[name] for name in days)
    others_changed = _any(changed[name] for name in names if name not in days)
    in_place = (pl.col("sheet") == pl.col("sheet_later")) & (
        pl.col("row_number") == pl.col("row_number_later")
    )
    return (
        _beside(pairs, old, new)
        .sort("later")
        .select(
            "earlier",
            "later",
            is_same=~_any(changed.values()),
            is_sure=~day_changed,
            is_in_place=in_place,
            is_dated=day_changed & ~others_changed & in_place,
        )
    )


def _any(conditions: Iterable[pl.Expr]) -> pl.Expr:
    return pl.any_horizontal(pl.lit(value=False), *conditions)
