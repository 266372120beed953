"""The owner's folder of photographs: which of them is of which pair, and each of them made fit for a page.

A file belongs to the pair whose stock number begins its name, with nothing after it but its ending, or a hyphen, an
underscore, a space or a bracket: A12.jpg, A12-2.jpg, A12_sole.jpg and "a12 (3).jpg" are of A12, and A123.jpg is not.
Where the names of two pairs begin a file's, the longer one has it.
"""

import os
import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import cached_property
from pathlib import Path, PurePosixPath, PureWindowsPath

from pipeline.errors import PictureError
from pipeline.market.pair import Pair
from pipeline.pictures.photograph import Photograph, make_photograph
from pipeline.plain_file import read_plain_file
from pipeline.untrusted import show_words

MOST_BYTES = 60_000_000
"""Bytes of one photograph: more than any camera's JPEG has."""

MOST_NOTES = 10
"""The most pictures that could not be shown of which each is named."""

ENDINGS = (
    ".jpg",
    ".jpeg",
    ".jpe",
    ".png",
    ".webp",
    ".heic",
    ".heif",
    ".gif",
    ".tif",
    ".tiff",
    ".bmp",
    ".svg",
)
"""How names of pictures end; other files in the folder are none of ours, and nothing is said of them."""

_MARKS = re.compile(r"[-_ (]")
_PARTS = re.compile(r"(\d+)")


class Album:
    """The photographs in a folder, by the pairs of which they are; each is read when a page asks for it.

    `numbers` are all stock numbers that are known, so that A1-2.jpg is not taken for the second picture of A1 where
    there is a pair A1-2. `notes` says, in a sentence each, which picture could not be shown, and why.
    """

    def __init__(self, folder: Path | None, numbers: Iterable[str]) -> None:
        self._folder = folder
        self._numbers = {_folded(number) for number in numbers if number.strip()}
        self._said: dict[str, None] = {}

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what could not be shown and why, each once; of very many, how many more there are."""
        said, more = tuple(self._said), len(self._said) - MOST_NOTES
        return said if more <= 0 else (*said[:MOST_NOTES], f"{more:,} more pictures are not shown.")

    def photographs(self, pair: Pair, *, longest: int, most: int) -> tuple[Photograph, ...]:
        """Return the photographs of a pair, at most so many, the longer side of each at most `longest` pixels.

        They are those that its list names, in that order, else those whose names begin with its stock number.
        """
        return self.photographs_of(pair.label, pair.pictures, longest=longest, most=most)

    def photographs_of(
        self, number: str, named: Sequence[str], *, longest: int, most: int
    ) -> tuple[Photograph, ...]:
        """Return the photographs of a stock number, or those that are `named`, as `photographs` does."""
        names = named or self._by_number.get(_folded(number), ())
        found: list[Photograph] = []
        for name in names:
            if len(found) == most:
                break
            try:
                found.append(make_photograph(self._read(name), longest))
            except PictureError as exc:
                remedy = exc.remedy.rstrip(".")
                self._said[
                    f"The picture {show_words(name, 120)!r} is not shown: {exc.what}{f'; {remedy}' if remedy else ''}."
                ] = None
        return tuple(found)

    @cached_property
    def _by_number(self) -> dict[str, list[str]]:
        """The names of the files in the folder, by the folded number of the pair that each is of."""
        found: dict[str, list[str]] = {}
        for name in self._names:
            number = self._number_of(_folded(PurePosixPath(name).stem))
            if number is not None:
                found.setdefault(number, []).append(name)
        return {number: sorted(names, key=_order) for number, names in found.items()}

    @cached_property
    def _names(self) -> tuple[str, ...]:
        """The names of the pictures in the folder."""
        if self._folder is None:
            return ()
        try:
            names = os.listdir(self._folder)
        except OSError as exc:
            self._said[
                f"There are no pictures: the folder {self._folder} (`[pictures] folder` of the market file) cannot be "
                f"read: {exc.strerror}."
            ] = None
            return ()
        return tuple(name for name in names if name.lower().endswith(ENDINGS) and not name.startswith("."))

    def _number_of(self, stem: str) -> str | None:
        """Return the longest known number that a folded name begins with and that ends there."""
        ends = [len(stem), *(mark.start() for mark in reversed(list(_MARKS.finditer(stem))))]
        return next((stem[:end].rstrip() for end in ends if stem[:end].rstrip() in self._numbers), None)

    def _read(self, name: str) -> bytes:
        """Return the bytes of a picture in the folder; raises PictureError for one that lies elsewhere."""
        if self._folder is None:
            raise PictureError(
                "the market file names no folder of pictures", 'write folder = "pictures" under [pictures].'
            )
        if "://" in name:
            raise PictureError(
                "it is an address, and pictures are read from your folder only", "save it there."
            )
        lexical, foreign = PurePosixPath(name), PureWindowsPath(name)
        outside = PictureError(
            f"it lies outside the folder {self._folder}", "only pictures in that folder are read."
        )
        missing = f"there is no such file in the folder {self._folder}"
        if lexical.is_absolute() or foreign.drive or foreign.root or ".." in (*lexical.parts, *foreign.parts):
            raise outside
        try:
            inside = self._folder.resolve(strict=True)
            path = (self._folder / name).resolve()
        except (
            OSError,
            RuntimeError,
            ValueError,
        ):  # a folder that is not there, links in a circle, a zero byte
            raise PictureError(missing) from None
        if not path.is_relative_to(inside):
            raise outside
        try:
            return read_plain_file(path, "picture", MOST_BYTES, fault=PictureError)
        except PictureError as exc:
            what = exc.what.replace(f"there is no picture {path}", missing)
            raise PictureError(what.replace(f"the picture {path} ", "it ")) from exc


def _folded(text: str) -> str:
    """Return a number or name as it is compared: without regard to case, or to how a system writes accents."""
    return unicodedata.normalize("NFC", text).strip().casefold()


def _order(name: str) -> tuple[object, ...]:
    """Return what puts A12 before A12-2, and that before A12-10."""
    parts = _PARTS.split(_folded(PurePosixPath(name).stem))
    return (*((int(part), "") if number % 2 else (-1, part) for number, part in enumerate(parts)), (-1, name))
