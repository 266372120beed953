"""What is nested in what in a JSON export, and which of its lists holds the records."""

import json
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any

from pipeline.alike import fold_all
from pipeline.errors import ExportError, MapError, suggest
from pipeline.ingest.heading_meaning import meanings
from pipeline.ingest.personal import looks_personal
from pipeline.ingest.readers.limits import MOST_COLUMNS

Shape = Any
"""What values have in common: {key: shape} of objects, [shape] of lists, a text of others ("VARCHAR", "JSON", ...)."""

MOST_LEVELS = 32
"""How deep objects and lists may stand in one another."""

MOST_KEYS = 200
"""An object in a record with more keys than these stays one cell, as JSON."""

OUTERMOST = "."
"""The name of the list that is the file itself: an array, or the lines."""

_OF_A_PAIR = ("title", "silhouette", "size_label", "grade")
_NOTHING, _MIXED = "NULL", "JSON"


@dataclass(frozen=True)
class Leaf:
    """A value in an object that becomes a column: the keys that lead to it, and whether it is more than one value."""

    keys: tuple[str, ...]
    nested: bool = False


@dataclass(frozen=True)
class RecordList:
    """A list of objects: the keys that lead from each list to the next, the first from the file's own objects.

    `shapes` are those of the objects of each level, the file's own first.
    """

    steps: tuple[tuple[str, ...], ...]
    shapes: tuple[Mapping[str, Shape], ...]

    @property
    def name(self) -> str:
        """The keys that lead to the list, as `records` of an export map has them."""
        return ".".join(key for step in self.steps for key in step) or OUTERMOST

    def headings(self, *, document: bool) -> list[list[tuple[str, Leaf]]]:
        """Return, level by level, each column's heading and the value that it holds.

        Keys are joined by dots from the outermost list on (order.date, lines.price); those of the document around
        that list (`document`) are theirs alone.
        """
        levels = []
        for level, shape in enumerate(self.shapes):
            below = self.steps[level : level + 1]
            inner = self.steps[1 if document else 0 : level]
            before = tuple(key for step in inner for key in step)
            levels.append(
                [(".".join((*before, *leaf.keys)), leaf) for leaf in leaves(shape) if (leaf.keys,) != below]
            )
        return levels


def merged(shapes: Sequence[str], *, where: str) -> Mapping[str, Shape]:
    """Return the shape that objects have together, from the shapes of each as JSON; keys in order of occurrence.

    Raises ExportError where they are nested deeper than MOST_LEVELS.
    """
    try:
        read = [json.loads(shape) for shape in shapes]
    except RecursionError as exc:
        raise _too_deep(where) from exc
    together: Mapping[str, Shape] = reduce(lambda one, other: _merge(one, other, 0, where), read, {})
    return together


def _too_deep(where: str) -> ExportError:
    return ExportError(
        f"{where} is nested deeper than {MOST_LEVELS} levels", "export it again, one record an object."
    )


def _merge(one: Shape, other: Shape, level: int, where: str) -> Shape:
    if level > MOST_LEVELS:
        raise _too_deep(where)
    if isinstance(one, dict) and isinstance(other, dict):
        together = {
            key: _merge(one.get(key, _NOTHING), shape, level + 1, where) for key, shape in other.items()
        }
        return one | together
    if isinstance(one, list) and isinstance(other, list):
        return [_merge(one[0], other[0], level + 1, where)]
    if one == _NOTHING or other == _NOTHING:
        known = other if one == _NOTHING else one
        if isinstance(known, dict):
            return {key: _merge(_NOTHING, shape, level + 1, where) for key, shape in known.items()}
        return [_merge(_NOTHING, known[0], level + 1, where)] if isinstance(known, list) else known
    return one if one == other else _MIXED


def leaves(shape: Mapping[str, Shape], before: tuple[str, ...] = ()) -> Iterator[Leaf]:
    """Return the values of an object and of the objects in it that are no objects themselves."""
    for key, inner in shape.items():
        if isinstance(inner, dict) and 0 < len(inner) <= MOST_KEYS:
            yield from leaves(inner, (*before, key))
        else:
            yield Leaf((*before, key), nested=not isinstance(inner, str) or inner == _MIXED)


def record_lists(shape: Mapping[str, Shape], *, document: bool) -> list[RecordList]:
    """Return every list of objects in a file's objects, outer ones first; the file's own objects unless a document."""
    own = RecordList((), (shape,))
    return [*([] if document else [own]), *_inner_lists(own)]


def _inner_lists(outer: RecordList) -> Iterator[RecordList]:
    for leaf in leaves(outer.shapes[-1]):
        inner = _at(outer.shapes[-1], leaf.keys)
        if isinstance(inner, list) and isinstance(inner[0], dict) and inner[0]:
            found = RecordList((*outer.steps, leaf.keys), (*outer.shapes, inner[0]))
            yield found
            yield from _inner_lists(found)


def _at(shape: Shape, keys: Sequence[str]) -> Shape:
    return reduce(lambda inner, key: inner[key], keys, shape)


def choose(
    lists: Sequence[RecordList], stated: str | None, wanted: Collection[str], *, document: bool, where: str
) -> RecordList | None:
    """Return the list that holds the records, or None where no list does.

    It is the one that the map states; failing that, the outermost in which the map finds all its columns; failing
    that, the one whose objects say the most of a pair (a title, a model, a size, a grade), of an order and its lines
    the lines, which have a quantity; failing that, the only one of objects with several values, or the file's own
    objects. Raises ExportError where two qualify, MapError where the stated one is not there.
    """
    if stated is not None:
        named = next((found for found in lists if found.name == stated), None)
        if named is None:
            raise MapError(
                f"{where} has no list of records {stated!r}", suggest(stated, [found.name for found in lists])
            )
        return named
    if fitting := [found for found in lists if wanted and not _lacks(found, wanted, document=document)]:
        levels = min(len(found.steps) for found in fitting)
        return _only([found for found in fitting if len(found.steps) == levels], where)
    several = [found for found in lists if sum(not leaf.nested for leaf in leaves(found.shapes[-1])) > 1]
    described = [_fields_of_a_pair(found.shapes[-1]) for found in several]
    most = max(described, default=0)
    pairs = [found for found, fields in zip(several, described, strict=True) if fields == most > 0]
    own = [found for found in lists if not found.steps]
    if len(pairs) > 1:
        pairs = [found for found in pairs if _counts_pairs(found.shapes[-1])] or pairs
    rest = pairs or own or several or lists
    return _only(rest, where) if rest else None


def _lacks(found: RecordList, wanted: Collection[str], *, document: bool) -> bool:
    headings = [heading for level in found.headings(document=document) for heading, _ in level]
    return not set(fold_all(wanted)) <= set(fold_all(headings))


def _fields_of_a_pair(shape: Mapping[str, Shape]) -> int:
    """Return how many fields of a pair the keys of an object are words for; the name of a customer is none."""
    return len({role for role in _roles(shape) if role in _OF_A_PAIR})


def _counts_pairs(shape: Mapping[str, Shape]) -> bool:
    """Whether a key of an object is a word for how many pairs it is of, as in the line of an order."""
    return "quantity" in _roles(shape)


def _roles(shape: Mapping[str, Shape]) -> set[str]:
    """Return what the keys of an object's values are words for, those of personal data aside."""
    keys = (leaf.keys[-1] for leaf in leaves(shape) if not leaf.nested)
    return {role for key in keys if not looks_personal(key) for role in meanings(key)}


def _only(lists: Sequence[RecordList], where: str) -> RecordList:
    if len(lists) > 1:
        names = " or ".join(f'`records = "{found.name}"`' for found in lists)
        raise ExportError(
            f"{where} has {len(lists)} lists that may hold its records",
            f"say in the export map which one does: {names}.",
        )
    return lists[0]


def keyed_records(shape: Mapping[str, Shape]) -> tuple[str, ...] | None:
    """Return the keys that lead to an object whose values are records of one kind (by lot, say), or None.

    They are of one kind where most of what they hold stands under keys that more than half of them have.
    """
    inner = [value for value in shape.values() if isinstance(value, dict)]
    if len(inner) > 1 and len(inner) == len(shape):
        times = Counter(key for value in inner for key in value)
        shared = sum(count for count in times.values() if 2 * count > len(inner))
        if 2 * shared > times.total() and len(times) <= MOST_COLUMNS:
            return ()
    for key, value in shape.items():
        if isinstance(value, dict) and (below := keyed_records(value)) is not None:
            return (key, *below)
    return None
