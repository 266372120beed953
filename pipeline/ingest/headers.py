"""Column names of an export: make them single, find their row, match them."""

import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable, Sequence

from pipeline.errors import MapError, suggest

SEARCHED_ROWS = 30
"""How many rows at the top of a file may be title rows, before the header."""


def fold_name(name: str) -> str:
    """Return a column's name as it is compared: composed, without outer or double spaces, case-folded."""
    return " ".join(unicodedata.normalize("NFC", name).split()).casefold()


def name_columns(cells: Sequence[str | None]) -> list[str]:
    """Return single names for a header row: blank ones are numbered, repeated ones counted."""
    names: list[str] = []
    seen: Counter[str] = Counter()
    for position, cell in enumerate(cells, start=1):
        name = " ".join((cell or "").split()) or f"column {position}"
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return names


def find_header(rows: Sequence[Sequence[str | None]], wanted: Collection[str]) -> int | None:
    """Return the position of the header among the first rows of a sheet, or None where all are blank.

    It is the first row that holds every wanted name; failing that, the one that holds the most of them;
    failing that, the first row with about as many filled cells as is usual (a title row has fewer).
    """
    names = {fold_name(name) for name in wanted}
    folded = [{fold_name(cell) for cell in row if cell} for row in rows[:SEARCHED_ROWS]]
    if names:
        for position, cells in enumerate(folded):
            if names <= cells:
                return position
        shared = [len(names & cells) for cells in folded]
        if max(shared, default=0) > 0:
            return shared.index(max(shared))
    filled = [sum(1 for cell in row if cell and cell.strip()) for row in rows[:SEARCHED_ROWS]]
    usual = Counter(count for count in filled if count).most_common()
    if not usual:
        return None
    typical = max(count for count, times in usual if times == usual[0][1])
    return next(at for at, count in enumerate(filled) if 5 * count >= 4 * typical)


def missing_columns(columns: Iterable[str], wanted: Iterable[str]) -> list[str]:
    """Return the wanted names that no column has, as the map writes them."""
    there = {fold_name(column) for column in columns}
    return [name for name in wanted if fold_name(name) not in there]


def resolve_column(columns: Sequence[str], wanted: str, *, where: str) -> str:
    """Return the column that a map means; raises MapError with the near names where there is none."""
    for column in columns:
        if fold_name(column) == fold_name(wanted):
            return column
    raise MapError(f"{where} has no column {wanted!r}", suggest(wanted, columns))
