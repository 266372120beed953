"""From the owner's words to a pair that can be valued: checked against the market file."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import polars as pl

from pipeline.alike import fold_all
from pipeline.config import Market
from pipeline.errors import PairError, suggest
from pipeline.ingest.attributes import NO_WORD, read_stated
from pipeline.ingest.lookup import look_up
from pipeline.ingest.names import Phrased, allowed_words, read_names
from pipeline.ingest.size_charts import chart_of
from pipeline.ingest.sizes import SizeChart, read_sizes
from pipeline.ingest.years import SEVERAL_ERAS
from pipeline.market.pair import CLOSED, Pair, Unread
from pipeline.schema import COLUMN, LISTS, SOURCE_FIELDS
from pipeline.untrusted import show_words

ATTRIBUTES: dict[str, str] = {"size_label": "size", "ask_native": "asking price", "stamp_text": "stamp"}
"""The attributes whose fields are called otherwise."""

MOST_SHOWN = 60
"""Characters of a cell that a sentence shows."""

LIST_MARK = ","
"""What parts the entries of a list (defects, treatments, parts) that the owner describes."""

WORDED: tuple[str, ...] = (
    *("colourway", "era", "size", "grade", *CLOSED),
    *("parts", "defects", "treatments", "venue"),
)
"""What can be described of a pair of a given silhouette, in the order in which it is stated."""

SINGULAR: dict[str, str] = {"parts": "part", "defects": "defect", "treatments": "treatment"}


@dataclass(frozen=True)
class Description:
    """A pair in the owner's words; None where nothing is said (a silhouette: where a file names it)."""

    silhouette: str | None = None
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

    Each word is read as a file's cell is: by the names, phrases and grade words of the market file, without
    regard to case and accents; a size that names no system is of the usual one (`[sizes] usual`). A silhouette
    that no record and no market file knows is valued all the same (with a wide band), unless its name is
    nearly one that is known: that is taken for a typing error, unless `as_written`; so is a colourway. Raises
    PairError naming attribute, value and allowed.
    """
    silhouette = _said(description.silhouette)
    if silhouette is None:
        raise PairError("the pair has no silhouette", "give --silhouette NAME.")
    stated = _read(description, silhouette, market)
    known = stated["silhouette"]["value"][0]
    return Pair(
        silhouette=known or _unheard(silhouette, market, as_written=as_written),
        label=description.label,
        **_attributes(description, stated, market),
    )


def override(pair: Pair, description: Description, market: Market) -> Pair:
    """Return a pair of a file with what is described of it besides; `read_as` says what took whose place.

    Raises PairError as `understand` does.
    """
    stated = _read(description, pair.silhouette, market)
    attributes = _attributes(description, stated, market)
    own_note = attributes.pop("read_as")
    given = [name for name in WORDED if _said(getattr(description, name)) is not None]
    fields = [field for name in given for field in _FIELDS_OF.get(name, (name,))]
    changed = replace(pair, **{field: attributes[field] for field in fields})
    overridden = [
        f"{name}: {_shown(changed, name) or 'not known'} from --{name}, {_instead(pair, name)}."
        for name in given
        if _shown(changed, name) != _shown(pair, name)
    ]
    kept = () if "size" in given else pair.read_as
    return replace(
        changed,
        label=description.label or pair.label,
        read_as=(*kept, *overridden, *own_note),
        unread=tuple(one for one in pair.unread if one.attribute not in given),
    )


_FIELDS_OF = {"size": ("size_label", "size_system", "foot_mm")}


def _instead(pair: Pair, name: str) -> str:
    before = _shown(pair, name)
    return f"not {before} from the file" if before else "which the file does not say"


def _shown(pair: Pair, name: str) -> str:
    """Return an attribute of a pair as text; "" where it is not known."""
    value = pair.size_text if name == "size" else getattr(pair, name)
    if value is None:
        return ""
    if isinstance(value, tuple):
        return ", ".join(value) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _said(word: str | None) -> str | None:
    """Return a word without the spaces about it, None where nothing is said."""
    return (word or "").strip() or None


def _read(description: Description, silhouette: str, market: Market) -> dict[str, pl.DataFrame]:
    """Return what the words of a description state (see `read_stated`), of a pair of that silhouette."""
    words = {name: _said(getattr(description, name, None)) for name in SOURCE_FIELDS}
    fields = pl.DataFrame(
        {name: [word] for name, word in (words | {"silhouette": silhouette}).items()},
        schema=dict.fromkeys(SOURCE_FIELDS, pl.String),
    )
    return read_stated(fields, market, list_mark=LIST_MARK, words={})


def _attributes(description: Description, stated: dict[str, pl.DataFrame], market: Market) -> dict[str, Any]:
    """Return the fields of Pair that a description states; raises PairError for a word that cannot be read."""
    colourway, grade = _said(description.colourway), _said(description.grade)
    if grade is not None and stated["grade"]["unread"][0] is not None:
        known = ", ".join(market.words.grades) or "none yet"
        raise PairError(
            f"grade {grade!r}: {stated['grade']['unread'][0]}",
            f"give 1 to 10 by half, or a trade word of the market file ({known}).",
        )
    label, system, foot_mm, assumed = _size(
        description.size, market, chart_of(stated["silhouette"]["value"][0], market)
    )
    return {
        "colourway": stated["colourway"]["value"][0] or colourway,
        "era": _one("era", description.era, stated, _words_of(market.eras)),
        "size_label": label,
        "size_system": system,
        "foot_mm": foot_mm,
        "grade": stated["grade"]["value"][0],
        **{
            name: _one(
                name,
                getattr(description, name),
                stated,
                (COLUMN[name].allowed or (), getattr(market.words, name).values()),
            )
            for name in CLOSED
        },
        **{name: _several(name, stated, _words_of(getattr(market, name))) for name in LISTS},
        "venue": _venue(description.venue, market),
        "read_as": (usual_size(label or "", system or ""),) if assumed else (),
    }


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
    return tuple(_pair_of(row) for row in records.iter_rows(named=True))


def _pair_of(row: Mapping[str, Any]) -> Pair:
    assumed = (usual_size(row["size_label"], row["size_system"]),) if row.get("size_assumed") else ()
    cells = row.get("unread") or []
    pair = Pair(
        silhouette=row["silhouette"] or row["title"],
        colourway=row["colourway"],
        era=row["era"],
        size_label=row["size_label"],
        size_system=row["size_system"],
        foot_mm=row["foot_mm"],
        grade=row["grade"],
        **{name: row[name] for name in CLOSED},
        parts=_tuple(row["parts"]),
        defects=_tuple(row["defects"]),
        treatments=_tuple(row["treatments"]),
        label=row["stock_ref"] or row["title"] or row["lot_ref"] or "",
        pictures=tuple(row.get("pictures") or ()),
        read_as=assumed,
    )
    return replace(pair, unread=tuple(_unread(cell, pair) for cell in cells))


def _unread(cell: Mapping[str, str], pair: Pair) -> Unread:
    """Return what must be said of a cell that could not be read: what it says, why, and what counts in its place."""
    name = ATTRIBUTES.get(cell["field"], cell["field"])
    counts = _shown(pair, name) if name in (*WORDED, "silhouette") and name != "size" else ""
    return Unread(
        name,
        f"{name.capitalize()} {show_words(cell['value'], MOST_SHOWN)!r} could not be read ({cell['reason']}): valued "
        f"with {name} {counts or 'unknown'}.",
    )


def usual_size(label: str, system: str) -> str:
    """Return what must be said of a size that names no system and was read in the usual one."""
    return (
        f"Size {label} names no system: read as {system}, your usual one ([sizes] usual of the market file)."
    )


def _tuple(values: Sequence[str] | None) -> tuple[str, ...] | None:
    return None if values is None else tuple(values)


def _unheard(wanted: str, market: Market, *, as_written: bool) -> str:
    """Return a silhouette's name that the market file does not know; raises PairError where it may mean another."""
    [folded] = fold_all([wanted])
    meant = [known.name for known in market.silhouettes if folded in fold_all(known.phrases)]
    if meant and not as_written:
        raise PairError(f"{wanted!r} may be {' or '.join(meant)}", "give the silhouette's name.")
    hint = suggest(wanted, [silhouette.name for silhouette in market.silhouettes])
    if hint.startswith("did you mean") and not as_written:
        raise PairError(
            f"no silhouette is called {wanted!r}; {hint}",
            "add --as-written to value it as one of which there are no records.",
        )
    return wanted


Words = tuple[Iterable[str], Iterable[Iterable[str]]]
"""The names of an attribute's values, and the other words for each."""


def _words_of(items: Sequence[Phrased]) -> Words:
    return [item.name for item in items], [item.phrases for item in items]


def _one(what: str, said: str | None, stated: dict[str, pl.DataFrame], words: Words) -> str | None:
    read = stated[what].row(0, named=True)
    if read["unread"] is not None and read["unread"].startswith(SEVERAL_ERAS):
        odds = read["unread"].removeprefix(SEVERAL_ERAS)
        raise PairError(
            f"era {_said(said)!r}: {SEVERAL_ERAS}{odds}",
            f'name one of them, or value the pair with `pairband appraise --era-odds "{odds}"`.',
        )
    if read["unread"] is not None:
        raise _unknown(what, _said(said) or "", words)
    value: str | None = read["value"]
    return value


def _several(what: str, stated: dict[str, pl.DataFrame], words: Words) -> tuple[str, ...] | None:
    read = stated[what].row(0, named=True)
    if read["unread"] is not None:
        unread = str(read["unread"]).removesuffix(f": {NO_WORD}").split("; ")
        raise _unknown(SINGULAR[what], unread[0], words)
    return _tuple(read["value"])


def _venue(said: str | None, market: Market) -> str | None:
    names = [venue.name for venue in market.venues]
    texts = pl.Series([_said(said)], dtype=pl.String)
    venue: str | None = look_up(texts, read_names(texts, allowed_words(names)))["value"][0]
    if venue is None and texts[0] is not None:
        raise _unknown("venue", texts[0], (names, ()))
    return venue


def _unknown(what: str, word: str, words: Words) -> PairError:
    """Return the error that a word means nothing, with the names, else the phrases, that are near to it."""
    names, phrases = list(words[0]), [phrase for several in words[1] for phrase in several]
    hints = [suggest(word, names), *([suggest(word, phrases)] if phrases else [])]
    near = next((hint for hint in hints if hint.startswith("did you mean")), hints[0])
    return PairError(f"{what} {word!r} is not one of those known", near)


def _size(
    said: str | None, market: Market, chart: SizeChart | None
) -> tuple[str | None, str | None, int | None, bool]:
    """Return label, system, foot length, and whether the system is the usual one, unsaid."""
    label = _said(said)
    if label is None:
        return None, None, None, False
    labels = pl.Series([label])
    as_printed = read_sizes(labels, system=None).row(0, named=True)
    row = read_sizes(labels, system=market.sizes.usual, chart=chart).row(0, named=True)
    if row["foot_mm"] is None:
        reason = row["reason"] or "no size can be read in it"
        raise PairError(
            f"size {label!r}: {reason}",
            "name the system with it ('UK 9', 'EU 43 1/3', '275 mm'), or set `usual` under `[sizes]`.",
        )
    return label, row["size_system"], row["foot_mm"], as_printed["size_system"] is None
