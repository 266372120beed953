"""From the owner's words to a pair that can be valued: checked against the market file."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.alike import find_alike
from pipeline.config import Market
from pipeline.decisions.pair import Pair
from pipeline.errors import PairError, suggest
from pipeline.ingest.grades import read_grades
from pipeline.ingest.sizes import read_sizes
from pipeline.schema import BOXES, OVERLAYS, TAGS

NOTHING = "none"
"""The word by which the owner says that a list (defects, treatments, parts) is empty."""


@dataclass(frozen=True)
class Description:
    """A pair in the owner's words; None where nothing is said."""

    silhouette: str
    colourway: str | None = None
    era: str | None = None
    size: str | None = None
    grade: str | None = None
    box: str | None = None
    tags: str | None = None
    overlay: str | None = None
    parts: str | None = None
    defects: str | None = None
    treatments: str | None = None
    venue: str | None = None
    label: str = ""


def understand(description: Description, market: Market, *, as_written: bool = False) -> Pair:
    """Return the pair that the owner's words describe.

    Names are matched without regard to case, accents and spaces. A silhouette that no record and no market
    file knows is valued all the same (with a wide band), unless its name is nearly one that is known: that is taken
    for a slip of the pen, unless `as_written`. Raises PairError naming attribute, value and allowed.
    """
    silhouette = _silhouette(description.silhouette, market, as_written=as_written)
    label, system, foot_mm = _size(description.size)
    return Pair(
        silhouette=silhouette,
        colourway=_colourway(description.colourway, silhouette, market),
        era=_one("era", description.era, [era.name for era in market.eras]),
        size_label=label,
        size_system=system,
        foot_mm=foot_mm,
        grade=_grade(description.grade, market),
        box=_one("box", description.box, BOXES),
        tags=_one("tags", description.tags, TAGS),
        overlay=_one("overlay", description.overlay, OVERLAYS),
        parts=_several("part", description.parts, [part.name for part in market.parts]),
        defects=_several("defect", description.defects, [defect.name for defect in market.defects]),
        treatments=_several("treatment", description.treatments, [done.name for done in market.treatments]),
        venue=_one("venue", description.venue, [venue.name for venue in market.venues]),
        label=description.label,
    )


def pairs_of_records(records: pl.DataFrame) -> tuple[Pair, ...]:
    """Return one pair for each row of a frame in the columns of a sale record (a stock or lot file).

    A row whose silhouette the market file does not know is valued as one of which there are no records,
    under its title; one without a title too raises PairError naming the row.
    """
    nameless = records.filter(pl.coalesce("silhouette", "title").is_null())
    if nameless.height:
        where = f"row {nameless['row_number'][0]}" if "row_number" in nameless.columns else "a row"
        raise PairError(
            f"{where} names no silhouette and has no title ({nameless.height} such rows)",
            "name the silhouette in the file, or map the column that holds it.",
        )
    return tuple(
        Pair(
            silhouette=row["silhouette"] or row["title"],
            colourway=row["colourway"],
            era=row["era"],
            size_label=row["size_label"],
            size_system=row["size_system"],
            foot_mm=row["foot_mm"],
            grade=row["grade"],
            box=row["box"],
            tags=row["tags"],
            overlay=row["overlay"],
            parts=_tuple(row["parts"]),
            defects=_tuple(row["defects"]),
            treatments=_tuple(row["treatments"]),
            label=row["stock_ref"] or row["title"] or row["lot_ref"] or "",
        )
        for row in records.iter_rows(named=True)
    )


def _tuple(values: Sequence[str] | None) -> tuple[str, ...] | None:
    return None if values is None else tuple(values)


def _silhouette(name: str, market: Market, *, as_written: bool) -> str:
    wanted = name.strip()
    if not wanted:
        raise PairError("the pair has no silhouette", "give --silhouette NAME.")
    known = {silhouette.name: silhouette.name for silhouette in market.silhouettes}
    for silhouette in market.silhouettes:
        for words in (f"{silhouette.maker} {silhouette.name}", *silhouette.phrases):
            known.setdefault(words, silhouette.name)
    found = find_alike(wanted, known)
    if found is not None:
        return known[found]
    hint = suggest(wanted, [silhouette.name for silhouette in market.silhouettes])
    if hint.startswith("did you mean") and not as_written:
        raise PairError(
            f"no silhouette is called {wanted!r}; {hint}",
            "add --as-written to value it as one of which there are no records.",
        )
    return wanted


def _colourway(name: str | None, silhouette: str, market: Market) -> str | None:
    if name is None or not name.strip():
        return None
    wanted = name.strip()
    kin = market.silhouette_by_name.get(silhouette)
    for colourway in kin.colourways if kin else ():
        if find_alike(wanted, (colourway.name, *colourway.phrases)) is not None:
            return colourway.name
    return wanted


def _one(what: str, word: str | None, allowed: Iterable[str]) -> str | None:
    if word is None or not word.strip():
        return None
    names = list(allowed)
    found = find_alike(word.strip(), names)
    if found is not None:
        return found
    raise PairError(f"{what} {word.strip()!r} is not one of those known", suggest(word.strip(), names))


def _several(what: str, words: str | None, allowed: Iterable[str]) -> tuple[str, ...] | None:
    if words is None or not words.strip():
        return None
    if find_alike(words, [NOTHING]) is not None:
        return ()
    names = list(allowed)
    found = {_one(what, word, names) for word in words.split(",") if word.strip()}
    return tuple(sorted(name for name in found if name is not None))


def _size(label: str | None) -> tuple[str | None, str | None, int | None]:
    if label is None or not label.strip():
        return None, None, None
    row = read_sizes(pl.Series([label.strip()]), system=None).row(0, named=True)
    if row["foot_mm"] is None:
        reason = row["reason"] or "no size can be read in it"
        raise PairError(
            f"size {label.strip()!r}: {reason}",
            "name the system with it, such as 'UK 9', 'EU 43 1/3', 'US 10' or '275 mm'.",
        )
    return row["size_label"], row["size_system"], row["foot_mm"]


def _grade(words: str | None, market: Market) -> float | None:
    if words is None or not words.strip():
        return None
    row = read_grades(pl.Series([words.strip()]), dict(market.words.grades)).row(0, named=True)
    grade: float | None = row["grade"]
    if grade is None:
        known = ", ".join(market.words.grades) or "none yet"
        raise PairError(
            f"grade {words.strip()!r}: {row['reason'] or 'it is neither a number nor a trade word'}",
            f"give 1 to 10 by half, or a trade word of the market file ({known}).",
        )
    return grade
