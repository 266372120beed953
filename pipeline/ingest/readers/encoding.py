"""From bytes to UTF-8: marks, stated encodings, guesses, and damage that is named."""

import codecs
import re
from dataclasses import dataclass

import polars as pl
from charset_normalizer import from_bytes

from pipeline.errors import ExportError
from pipeline.ingest.readers.letters import likely_by_letters

_MARKS: tuple[tuple[bytes, str], ...] = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
ASCII = "ascii"
_SAMPLE_BYTES = 262_144
_JAPANESE = ("cp932", "euc_jp")
_EAST_ASIAN = [*_JAPANESE, "gb18030", "big5", "euc_kr"]
_KANA = re.compile("[\u3041-\u30fa]")
_KANJI = re.compile("[\u4e00-\u9fff]")
_KANA_HALF_WIDTH = re.compile("[\uff66-\uff9f]")


@dataclass(frozen=True)
class Decoded:
    """The text of a file as UTF-8 bytes without a mark, the encoding it had, and what was odd."""

    content: bytes
    encoding: str
    notes: tuple[str, ...] = ()


def decode(content: bytes, stated: str | None, *, where: str) -> Decoded:
    """Return the content as UTF-8.

    A byte-order mark settles it; else the encoding that the map states; else UTF-8 if the bytes are
    that; else a guess, which is noted. Raises ExportError where the stated encoding does not fit.
    """
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            return _strictly(content, encoding, where)
    if stated is not None:
        return _strictly(content, stated, where)
    if content.isascii() and b"\0" not in content:
        return Decoded(content, ASCII)
    if b"\0" in content[:_SAMPLE_BYTES]:
        return _strictly(content, _which_utf16(content, where), where)
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as exc:
        return _guessed(content, exc, where)
    return Decoded(content, "utf-8")


def _strictly(content: bytes, encoding: str, where: str) -> Decoded:
    try:
        text = content.decode(encoding)
    except LookupError as exc:
        raise ExportError(
            f"{where}: no encoding is called {encoding!r}",
            "correct `encoding` in the export map (utf-8, cp1252, shift_jis, utf-16, ...), or leave it out.",
        ) from exc
    except UnicodeDecodeError as exc:
        line = content.count(b"\n", 0, exc.start) + 1
        raise ExportError(
            f"{where} is not {encoding}: line {line} holds the byte 0x{content[exc.start]:02x}",
            "correct `encoding` in the export map, or leave it out to have it found.",
        ) from exc
    if codecs.lookup(encoding).name == "utf-8":
        return Decoded(content, encoding)
    return Decoded(text.encode("utf-8"), encoding)


def _which_utf16(content: bytes, where: str) -> str:
    """Return the byte order of UTF-16 without a mark: where the zero bytes of plain letters stand.

    Of a text with few plain letters all zero bytes stand on one side, and the rest is Japanese in lines.
    """
    sample = content[:_SAMPLE_BYTES]
    even, odd = sample[0::2].count(0), sample[1::2].count(0)
    order = "utf-16-le" if odd > even else "utf-16-be"
    few = 10 * max(even, odd) < len(sample)
    mixed = min(even, odd) * 10 > max(even, odd)
    if mixed or (few and (min(even, odd) > 0 or not _is_japanese(sample, order))):
        raise ExportError(f"{where} is not text: it holds zero bytes", "export it again as CSV or Excel.")
    return order


def _is_japanese(sample: bytes, encoding: str) -> bool:
    """Whether bytes are lines of Japanese in an encoding, most of their signs kana or kanji."""
    text = sample.decode(encoding, "replace")
    letters = len(_KANA.findall(text)) + len(_KANJI.findall(text))
    return "\n" in text and _KANA.search(text) is not None and 2 * letters > len(text)


def _guessed(content: bytes, exc: UnicodeDecodeError, where: str) -> Decoded:
    text = content.decode("utf-8", "replace")
    bad = text.count("\ufffd")
    good = sum(1 for character in text[:_SAMPLE_BYTES] if character > "\x7f") - bad
    if good > 4 * bad:
        line = content.count(b"\n", 0, exc.start) + 1
        note = f"{bad} bytes are not UTF-8 though the rest is (first on line {line}); they stand as \ufffd"
        return Decoded(text.encode("utf-8"), "utf-8", (note,))
    encoding = _likely_encoding(content[:_SAMPLE_BYTES])
    decoded = _strictly(content, encoding, where)
    note = f"its encoding was taken to be {encoding}; state `encoding` in the export map to be sure"
    return Decoded(decoded.content, encoding, (note,))


def _likely_encoding(sample: bytes) -> str:
    """Return a likely encoding of bytes that are not UTF-8."""
    whole_lines = sample[: sample.rfind(b"\n") + 1] or sample
    for encoding in _JAPANESE:
        try:
            text = whole_lines.decode(encoding)
        except UnicodeDecodeError:
            continue
        if len(_KANA.findall(text)) > 2 * len(_KANA_HALF_WIDTH.findall(text)):
            return encoding
    by_letters = likely_by_letters(whole_lines)
    if by_letters is not None:
        return by_letters
    best = from_bytes(whole_lines, cp_isolation=_EAST_ASIAN).best()
    if best is not None:
        return best.encoding
    try:
        whole_lines.decode("cp1252")
    except UnicodeDecodeError:
        return "latin-1"
    return "cp1252"


_SUSPECT = r"[ÃÂâåæçéã‚ƒ„][\u{80}-\u{BF}€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ]"
_MISREADINGS: tuple[tuple[str, str], ...] = (("cp1252", "utf-8"), ("latin-1", "utf-8"), ("cp1252", "cp932"))


def find_mojibake(cells: pl.DataFrame, row_numbers: pl.Series) -> str | None:
    """Return a sentence that names the first garbled cell and what it should be, or None.

    A cell is garbled where its characters, put back into the bytes of one encoding, are well-formed
    text of another (UTF-8 that was read as cp1252, ...). Nothing is changed: the export has to be corrected.
    """
    for name in cells.columns:
        suspect = cells[name].str.contains(_SUSPECT).fill_null(False)
        if not suspect.any():
            continue
        at = int(suspect.arg_true()[0])
        value = cells[name][at]
        repaired = _repair(value)
        if repaired is not None:
            return (
                f"{suspect.sum()} cells of column {name!r} are garbled (first in row {row_numbers[at]}: "
                f"{value[:60]!r} should be {repaired[:60]!r}): the file was written with two encodings mixed up; "
                "export it again"
            )
    return None


def _repair(value: str) -> str | None:
    for read_as, written_as in _MISREADINGS:
        try:
            repaired = value.encode(read_as).decode(written_as)
        except UnicodeError:
            continue
        if written_as == "utf-8" or _KANA.search(repaired):
            return repaired
    return None
