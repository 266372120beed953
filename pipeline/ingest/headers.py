"""Column names of an export: make them single, find their row, match them."""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence

from pipeline.alike import fold_all
from pipeline.errors import MapError, suggest

SEARCHED_ROWS = 30
"""How many rows at the top of a file may be title rows, before the header."""


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
    names = set(fold_all(wanted))
    if names:
        folded = [set(fold_all(cell for cell in row if cell)) for row in rows[:SEARCHED_ROWS]]
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
    there, names = set(fold_all(columns)), list(wanted)
    return [name for name, form in zip(names, fold_all(names), strict=True) if form not in there]


def resolve_column(columns: Sequence[str], wanted: str, *, where: str) -> str:
    """Return the column that a map means: the very name, else the one that is alike.

    Raises MapError with the near names where there is none, and where several are alike and none is the very one.
    """
    if wanted in columns:
        return wanted
    form, *forms = fold_all([wanted, *columns])
    alike = [column for column, other in zip(columns, forms, strict=True) if other == form]
    if not alike:
        raise MapError(f"{where} has no column {wanted!r}", suggest(wanted, columns))
    if len(alike) > 1:
        raise MapError(
            f"{where} has several columns that {wanted!r} may mean: {', '.join(map(repr, alike))}",
            "write the one that is meant in the map just as the export does.",
        )
    return alike[0]
