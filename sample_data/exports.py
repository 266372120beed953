"""Which rows stand in which export, and each export's bytes."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from sample_data import scenario
from sample_data.faults import add_faults
from sample_data.histories import draw_histories
from sample_data.money import with_native_amounts
from sample_data.tables import KEPT, counter_table, holm_table, lantern_table, umikaze_table
from sample_data.workbook import write_workbook

SEED = 20260930

HOLM_FILES: dict[str, tuple[date, date]] = {
    "holm_2017_2019.csv": (date(2017, 10, 1), date(2019, 12, 31)),
    "holm_2020_2022.csv": (date(2020, 1, 1), date(2022, 12, 31)),
    "holm_2023_2026.csv": (date(2023, 1, 1), date(2026, 9, 30)),
    "holm_season_2023_24.csv": (date(2023, 7, 1), date(2024, 6, 30)),
}
"""By file: the first and the last day of sale in it. The last repeats a part of the third."""

LANTERN_FILES: dict[str, tuple[date, date]] = {
    "lantern_dock_2017_2021.csv": (date(2017, 10, 1), date(2021, 12, 31)),
    "lantern_dock_2021_2026.csv": (date(2021, 8, 1), date(2026, 9, 30)),
}
"""By file: the first and the last day on which a listing ended; five months stand in both."""

UMIKAZE_SHEETS: dict[str, tuple[date, date]] = {
    "2017-2021": (date(2017, 10, 1), date(2021, 12, 31)),
    "2022-2026": (date(2022, 1, 1), date(2026, 9, 30)),
}


@dataclass(frozen=True)
class Export:
    """One export: its bytes, and behind each of its rows the offer.

    `rows`: offer, status, fault (or null), closed_on, sheet (null but in a workbook) and row_number (the
    line of the text file, or the row of the sheet, counted from 1).
    """

    name: str
    content: bytes
    rows: pl.DataFrame


def draw_export_offers(*, seed: int = SEED) -> pl.DataFrame:
    """Return every offer behind the exports, with its faults and the amounts that the venue states."""
    draws = np.random.Generator(np.random.PCG64([seed, 1_000_033]))
    return with_native_amounts(add_faults(draw_histories(seed=seed), draws))


def make_exports(offers: pl.DataFrame, *, seed: int = SEED) -> list[Export]:
    """Return the exports of the four venues, in the order of their names."""
    draws = np.random.Generator(np.random.PCG64([seed, 1_000_037]))
    holm, lantern = holm_table(offers, draws), lantern_table(offers, draws)
    umikaze, counter = umikaze_table(offers, draws), counter_table(offers, draws)
    exports = [
        _text_export("counter_log.jsonl", counter, _json_lines, first_row=1),
        *(
            _text_export(name, _within(holm, *days), _holm_csv, first_row=2)
            for name, days in HOLM_FILES.items()
        ),
        *(
            _text_export(name, _within(lantern, *days), _plain_csv, first_row=2)
            for name, days in LANTERN_FILES.items()
        ),
        _workbook_export("umikaze_results.xlsx", umikaze),
    ]
    return sorted(exports, key=lambda export: export.name)


def _within(table: pl.DataFrame, first: date, last: date) -> pl.DataFrame:
    """Return the rows that ended within the days given; open ones are in the export that ends last."""
    return table.filter(pl.col("closed_on").fill_null(scenario.LAST_DAY).is_between(first, last))


def _text_export(
    name: str, table: pl.DataFrame, write: Callable[[pl.DataFrame], bytes], *, first_row: int
) -> Export:
    rows = table.select(*KEPT, sheet=pl.lit(None, dtype=pl.String)).with_row_index(
        "row_number", offset=first_row
    )
    return Export(name, write(table.drop(KEPT)), rows)


def _workbook_export(name: str, table: pl.DataFrame) -> Export:
    sheets = {sheet: _within(table, *days) for sheet, days in UMIKAZE_SHEETS.items()}
    content = write_workbook(
        "Umikaze Lots: results", {sheet: rows.drop(KEPT) for sheet, rows in sheets.items()}
    )
    rows = [
        part.select(*KEPT, sheet=pl.lit(sheet)).with_row_index("row_number", offset=4)
        for sheet, part in sheets.items()
    ]
    return Export(name, content, pl.concat(rows))


def _holm_csv(table: pl.DataFrame) -> bytes:
    return table.write_csv(separator=";", line_terminator="\r\n").encode("cp1252")


def _plain_csv(table: pl.DataFrame) -> bytes:
    return table.write_csv().encode()


def _json_lines(table: pl.DataFrame) -> bytes:
    return table.write_ndjson().encode()
